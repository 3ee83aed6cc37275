"""What people take along: sheets for paper and telephone, places for a navigator, days for a calendar."""
