"""The stages of the job in their order; one module a command, each reading as the list of its steps."""
