"""The area file and the options of a command, read into frozen, checked settings.

An area is described by one TOML file, ``area.toml``; a command given bare files instead of a folder uses the
same settings with their defaults. Nothing else in the program reads options.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from gapmap.columns import Meaning
from gapmap.errors import SettingsError, fault_of_line, fault_of_setting
from gapmap.typed import DateClass, text_to_classes, text_to_months, text_to_side

_TILE_ADDRESS = re.compile(r"https://([a-z0-9][a-z0-9.-]*(?::\d+)?)/[^\s\"'<>\\;,`]*")


class _Section(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class AreaSection(_Section):
    """[area]: what and where the area is."""

    name: str = "Records"
    grid: Literal["", "british", "irish", "channel", "europe", "utm"] = ""
    zones: tuple[str, ...] = ()
    square: str = "2km"
    classes: str = ""
    boundary: str = ""
    vice_counties: str = Field(default="", description="outlines with names or numbers, held against what records say")
    squares: tuple[str, ...] = ()
    background: tuple[str, ...] = ()
    wider: tuple[str, ...] = ()
    notice: str = Field(default="", description="A line shown on every output, such as that the data are invented.")

    @field_validator("square")
    @classmethod
    def _square_is_a_size(cls, text: str) -> str:
        text_to_side(text)
        return text

    @field_validator("classes")
    @classmethod
    def _classes_are_classes(cls, text: str) -> str:
        text_to_classes(text)
        return text

    @property
    def side_m(self) -> int:
        """Side of the map's square in metres."""
        return text_to_side(self.square)

    @property
    def date_classes(self) -> tuple[DateClass, ...]:
        """Date classes in the order of time; empty when they are to be chosen from the records."""
        return text_to_classes(self.classes)


class RecordsSection(_Section):
    """[records]: how the files are to be read."""

    columns: dict[Meaning, str] = Field(default_factory=dict, description="meaning = header, where gapmap cannot tell")
    year_pivot: int = Field(default=30, ge=0, le=99, description="two-digit years up to this are 20xx, above it 19xx")
    month_first: tuple[str, ...] = Field(default=(), description="files whose dates put the month before the day")
    fill_down: tuple[str, ...] = Field(
        default=(), description="files in which a blank date, place or recorder means the same as in the row above"
    )


class RastersSection(_Section):
    """[rasters]: the user's own habitat and height."""

    habitat: str = ""
    habitat_names: dict[str, str] = Field(default_factory=dict)
    height: str = ""


class ThresholdsSection(_Section):
    """[thresholds]: where one standing ends and the next begins."""

    begun_visits: int = Field(default=2, ge=1)
    enough_visits: int = Field(default=6, ge=2)
    part_share: float = Field(default=0.5, gt=0, lt=1)
    well_share: float = Field(
        default=0.75, gt=0, lt=1, description="common practice: three quarters of the known species"
    )
    sure_share: float = Field(
        default=0.5, ge=0, lt=1, description="well covered: at least this share of the interval's upper end too"
    )
    full_share: float = Field(default=0.9, gt=0, le=1)
    poor_share: float = Field(
        default=0.5, gt=0, lt=1, description="poor: fewer species than this share of what is usual"
    )
    comparable_squares: int = Field(default=5, ge=1, description="well covered squares needed to say what is usual")
    survey_list: int = Field(default=4, ge=2, description="a list this long is no casual record")
    stale_species: int = Field(default=5, ge=1, description="species known before, from which a square can go stale")
    stale_share: float = Field(default=0.25, gt=0, lt=1, description="gone stale: fewer of them found again")
    near_visits: int = Field(default=2, ge=1, description="a near miss lacks at most this many visits")

    @model_validator(mode="after")
    def _each_stands_below_the_next(self) -> ThresholdsSection:
        for low, high in (
            ("part_share", "well_share"), ("well_share", "full_share"), ("stale_share", "well_share"),
            ("begun_visits", "enough_visits"),
        ):
            less, more = getattr(self, low), getattr(self, high)
            if less > more or (less == more and low == "part_share"):
                raise SettingsError(
                    f"The threshold {low} must stand below {high}, which begins a better standing",
                    found=f"{low} = {less} and {high} = {more}",
                    do="change one of them; one that the area file does not write has its usual value",
                )  # fmt: skip
        return self


class PublishSection(_Section):
    """[publish]: what leaves the organiser's desk."""

    sensitive: dict[str, str] = Field(default_factory=dict, description="species = size to publish at")
    recorder_names: bool = False


class ProtectedSeason(_Section):
    """[[visits.protected]]: squares that are left alone in some months."""

    squares: tuple[str, ...]
    months: str = Field(description="such as 3-8")
    why: str = ""

    @field_validator("months")
    @classmethod
    def _months_are_months(cls, text: str) -> str:
        text_to_months(text)
        return text


class ChecksSection(_Section):
    """[checks]: which odd records are put first."""

    look_first: int = Field(default=200, ge=20, description="as odd as one in so many (and all likely slips)")


class VisitsSection(_Section):
    """[visits]: rules for planning field days, and what the plan is to weigh."""

    volunteers: str = "volunteers.csv"
    year: int = Field(default=0, ge=0, le=9999, description="of the season; 0 for the one of most dates to come")
    travel: str = Field(default="", description="own travel times: a CSV with volunteer, square, minutes")
    no_go: tuple[str, ...] = Field(default=(), description="squares where nobody is ever sent")
    protected: tuple[ProtectedSeason, ...] = ()
    tidal: tuple[str, ...] = Field(default=(), description="squares for those only who say yes under tides")
    most_per_square: int = Field(default=3, ge=1)
    pairs_only: bool = Field(default=False, description="never a lone visit anywhere")
    two_people: tuple[str, ...] = Field(default=(), description="squares where nobody goes alone")
    two_people_at: tuple[Literal["day", "dusk", "night"], ...] = Field(
        default=("night",), description="times of day at which nobody goes alone"
    )
    refind_worth: float = Field(default=1.0, ge=0, description="finding a species again, where a new one counts 1")
    near_worth: float = Field(default=0.5, ge=0, description="extra worth in a square a visit or two from well covered")
    cost_a_km: float = Field(default=0.02, ge=0, description="finds that a kilometre one way must bring to be worth it")
    lists_a_visit: float = Field(default=10.0, gt=0, description="ordinary lists that a planned field day amounts to")
    voucher_share: float = Field(
        default=0.5, ge=0, le=1, description="share still named, by others, of what is beyond a volunteer's own means"
    )
    other_groups_share: float = Field(default=0.05, ge=0, le=1, description="the same of groups they cannot name")
    other_method_share: float = Field(
        default=0.7, ge=0, le=1, description="share still found of species whose usual method the volunteer lacks"
    )
    targets: int = Field(default=12, ge=1, le=30, description="target species on a field sheet")
    meeting_people: int = Field(default=3, ge=2, description="people within reach that make a field meeting")
    meeting_km: float = Field(default=6.0, gt=0, description="how far from its base a field meeting spreads")


class TilesSection(_Section):
    """[tiles]: pictures of a background map from the network, for a page whose reader asks for them."""

    address: str = Field(default="", description="https address with {z}, {x} and {y}, as Web Mercator tiles have")
    credit: str = Field(default="", description="whom the pictures are owed to, shown with them")
    deepest: int = Field(default=17, ge=0, le=22, description="deepest level the address has")

    @model_validator(mode="after")
    def _address_and_credit(self) -> TilesSection:
        places = sorted(re.findall(r"\{.*?\}", self.address))
        if self.address and not (self.host and places == ["{x}", "{y}", "{z}"]):
            do = "write one https address with {z}, {x} and {y} once each, as its provider names it"
            raise SettingsError("This is no address of map tiles", found=self.address, do=do)
        if self.address and not self.credit.strip():
            raise SettingsError("The map tiles are owed to somebody", found="no credit", do="set credit in [tiles]")
        return self

    @property
    def host(self) -> str:
        """The one host a page may ask; empty when none is named."""
        named = _TILE_ADDRESS.fullmatch(self.address)
        return named[1] if named else ""


class Settings(_Section):
    """All settings of an area, frozen; see the fields of each section."""

    area: AreaSection = AreaSection()
    records: RecordsSection = RecordsSection()
    rasters: RastersSection = RastersSection()
    thresholds: ThresholdsSection = ThresholdsSection()
    publish: PublishSection = PublishSection()
    checks: ChecksSection = ChecksSection()
    visits: VisitsSection = VisitsSection()
    tiles: TilesSection = TilesSection()


def read_settings(path: Path) -> Settings:
    """Read an area file.

    Parameters
    ----------
    path
        The TOML file.

    Raises
    ------
    SettingsError
        The file is missing or is no TOML, names an unknown setting, or a value cannot be; the sentence names the line.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise SettingsError(
            f"The area file {path.name} cannot be read",
            found=error.strerror,
            do="start an area with: gapmap new FOLDER",
        ) from error
    except UnicodeDecodeError as error:
        raise SettingsError(
            f"The area file {path.name} is not UTF-8 text", do="save it as UTF-8 in a plain text editor"
        ) from error
    try:
        return Settings.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise fault_of_line(path.name, text, str(error)) from error
    except ValidationError as error:
        raise fault_of_setting(path.name, text, error.errors()[0]) from error
