"""What may be fixed about an analysis besides the recording, and what the shop's settings fill in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal, get_args

from leakdown.analysis import Limit
from leakdown.circuits import circuit
from leakdown.errors import UsageError
from leakdown.judge.limits import Source, limit_in_force, parse_limit
from leakdown.judge.rig import Rig
from leakdown.judge.rig_store import folder_of, load
from leakdown.physics.flow import DISCHARGE_COEFFICIENT
from leakdown.quantities import ATMOSPHERE_PA, parse_flow, parse_pressures
from leakdown.recording import Recording
from leakdown.settings import ShopSettings, read_settings
from leakdown.tuned import tuned

_T = tuned("judge")
DEFAULT_QUOTE_PA: float = _T.quote_pa
VentKind = Literal["valve", "breather", "unknown"]


@dataclass(frozen=True)
class Settings:
    """What the user may fix. Conditions that belong to the test itself are in `Recording.conditions`.

    quote_pa: magnitude of the gauge pressure at which the leak is quoted. hold_s: (start, end) by hand.
    limit, job_limit: a `Limit` or its text, given with this analysis or as the job's maker figure.
    rig: a rig, or the name of one that was kept, whose own leak is taken off. swept_m3: of the engine, for
    the share of its idle air. air_needed_m3_s: what a tank's vent must let in (20 degC, 101.325 kPa), and
    air_needed_from whose figure that is. opens_pa: the maker's (lowest, highest) opening of an inlet needle.
    vent_kind: of a tank's vent. gauge_range_pa: the end of the gauge's scale, beyond which nothing counts.
    shop: what the shop has set; None takes none of it.
    """

    quote_pa: float = DEFAULT_QUOTE_PA
    hold_s: tuple[float, float] | None = None
    limit: Limit | str | None = None
    job_limit: Limit | str | None = None
    rig: Rig | str | None = None
    swept_m3: float | None = None
    air_needed_m3_s: float | None = None
    air_needed_from: Source = "given"
    opens_pa: tuple[float, float] | None = None
    vent_kind: VentKind = "unknown"
    gauge_range_pa: float | None = None
    discharge_coefficient: float = DISCHARGE_COEFFICIENT
    shop: ShopSettings | None = None

    def __post_init__(self) -> None:
        """Refuse what no analysis can use, by name and value. Raises UsageError."""
        for name in ("quote_pa", "swept_m3", "air_needed_m3_s", "gauge_range_pa", "discharge_coefficient"):
            value = getattr(self, name)
            if value is not None and not 0.0 < value < float("inf"):
                raise UsageError(f"{name} {value!r} is no size", remedy="Give a number above zero.")
        if self.hold_s is not None and not self.hold_s[0] < self.hold_s[1]:
            what = f"hold_s {self.hold_s!r} does not end after it starts"
            raise UsageError(what, remedy="Give (start, end).")
        if self.vent_kind not in get_args(VentKind):
            what = f"vent kind {self.vent_kind!r} is not known"
            raise UsageError(what, remedy="Say valve, breather or unknown.")
        _ = self.given_limit, _read(self.job_limit)  # refused now, not at the first recording

    @classmethod
    def of_shop(cls) -> Settings:
        """Nothing but what the shop has set. Raises InputError for a settings file that cannot be read."""
        return cls(shop=read_settings())

    @property
    def given_limit(self) -> Limit | None:
        """The limit given with the analysis itself. Raises UsageError for a text that is none."""
        return _read(self.limit)

    @property
    def told_limit(self) -> Limit | None:
        """The limit told before there is a recording: given, else the job's maker figure. Raises UsageError."""
        job = _read(self.job_limit)
        return self.given_limit or (replace(job, source="job") if job is not None else None)

    def limit_for(self, recording: Recording) -> Limit | None:
        """The limit in force for a recording. Raises UsageError."""
        return limit_in_force(recording, self.given_limit, _read(self.job_limit), self.shop)

    def air_for(self, recording: Recording) -> tuple[float, Source]:
        """Air that a vent must let in, m3/s at 20 degC and 101.325 kPa, and whose figure it is. Raises UsageError."""
        if self.air_needed_m3_s is not None:
            return self.air_needed_m3_s, self.air_needed_from
        said = recording.conditions.other("air_needed")
        if said is not None:
            return parse_flow(said, f"{recording.source}: air needed") / ATMOSPHERE_PA, "file"
        shop = None if self.shop is None else self.shop.air_needed_m3_s
        return (_T.air_needed_cm3_min / 60e6, "practice") if shop is None else (shop, "settings")

    def opens_for(self, recording: Recording) -> tuple[tuple[float, float] | None, Source]:
        """Where a needle must open, Pa (low, high), and who says so; None where it must not. Raises UsageError."""
        said = recording.conditions.other("maker_opens")
        if self.opens_pa is not None:
            return self.opens_pa, "given"
        if said is not None:
            return parse_pressures(said, f"{recording.source}: maker opens"), "file"
        way = circuit(recording.circuit).way(recording.direction)
        return None if way is None else way.opens_pa, "practice"

    def rig_for(self, recording: Recording) -> Rig | None:
        """The rig whose leak is taken off: as given, else the shop's; none off the rig itself."""
        name = self.rig if self.rig is not None or self.shop is None else self.shop.rig
        if name is None or recording.circuit == "rig":
            return None
        if isinstance(name, Rig):
            return name
        return load(name, folder_of(None if self.shop is None else self.shop.rigs))

    def filled_in(self, recording: Recording) -> Recording:
        """The recording with what it does not say of its conditions taken from the shop's settings."""
        if self.shop is None:
            return recording
        have, shop = recording.conditions, self.shop
        known = {
            "barometer_pa": shop.barometer_pa,
            "temperature_k": shop.temperature_k,
            "resolution_pa": shop.resolution_pa,
            "volume_m3": shop.volume_m3(recording.circuit),
        }
        new = {name: v for name, v in known.items() if v is not None and getattr(have, name) is None}
        if not new and shop.unit in (None, have.shown_in):
            return recording
        told: dict[str, Any] = {**new, "shown_in": shop.unit or have.shown_in}
        told["by_settings"] = (*have.by_settings, *new)
        return replace(recording, conditions=replace(have, **told))


def _read(limit: Limit | str | None) -> Limit | None:
    return parse_limit(limit) if isinstance(limit, str) else limit
