"""What the page of one stage shows, put together from the job's log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from markupsafe import Markup

from groovewright.job import JobState, Log, Plan, StageReport, fold
from groovewright.job.events import MOUNT_CHECKS
from groovewright.job.plan import STAGES
from groovewright.quantities import BenchError
from groovewright.report.comparison import comparison
from groovewright.report.picture import inline_svg
from groovewright.report.words import with_minus
from groovewright.web.drawings import stage_drawings
from groovewright.web.fields import SECTION_FIELDS, STEP_FIELDS, Field
from groovewright.web.said import SECTION_NAMES
from groovewright.web.typed import record_values, shown_value

HANDOVER = "handover"
TITLES = {HANDOVER: "hand over"}
MARKS = {
    "done": ("✓", "done"),
    "open": ("●", "to do"),
    "waiting": ("…", "waits"),
    "unknown": ("?", "unknown"),
    "not-needed": ("–", "not needed"),
}
"""How the status of a stage is shown: a sign and a word."""

SECTIONS = {
    "intake": (
        "arm",
        "cartridge_in",
        "cartridge_out",
        "found",
        "job",
        "deck",
        "phono",
        "aim",
        "kept",
        "play",
    ),
    "match": ("phono",),
    "square": ("aim",),
}
"""What is described at a stage, in order."""

FEW = {
    "job": 2, "deck": 1, "arm": 6, "cartridge_out": 3, "cartridge_in": 3, "phono": 3, "found": 3, "aim": 3,
    "kept": 3, "play": 3,
}  # fmt: skip
"""How many fields of a section are shown at first."""

STEPS = {
    "intake": ("tilt", "speed"),
    "weigh": ("weighed", "weight_turned", "gauge_checked"),
    "square": ("look", "moved"),
    "level": ("antiskating", "rake", "lean", "crosstalk"),
    "listen": ("listen_closed",),
}
"""What is written down at a stage, the usual one first."""

STEP_HEADS = {
    "weighed": ("Write down a reading of the gauge", "Save the reading"),
    "weight_turned": ("The counterweight was turned", "Save the turn"),
    "gauge_checked": ("A check mass was put on the gauge", "Save the check"),
    "look": ("Look at both points", "Save the look"),
    "moved": ("Move it, then save how", "Moved like this: save"),
    "antiskating": ("Anti-skating was set", "Save the setting"),
    "rake": ("Rake angle was read", "Save the angle"),
    "lean": ("Lean was read in a mirror", "Save the lean"),
    "crosstalk": ("Crosstalk was read", "Save the reading"),
    "tilt": ("The platter was levelled", "Save the level"),
    "speed": ("The speed was counted", "Save the count"),
    "listen_closed": ("No (further) recording will be made", "Settle without it"),
}

MAIN_ROWS = {
    "match": (
        "resonance, vertical",
        "resonance, lateral",
        "within 8 to 12 Hz",
        "departure from flat",
        "flattest offered",
    ),
    "weigh": ("force", "within the range", "target", "maker's range", "as found"),
    "square": (
        "yaw now, outer",
        "yaw now, inner",
        "yaw now",
        "within now",
        "slide",
        "turn",
        "square at",
        "overhang",
    ),
    "level": ("anti-skating", "set to", "rake", "lean", "lean of the body", "shim"),
}
"""The few rows that are shown at first."""


@dataclass(frozen=True)
class FilledField:
    """A field with its name in the form and what stands in it."""

    name: str
    field: Field
    value: str
    error: str = ""
    inches: str = ""


@dataclass(frozen=True)
class Form:
    """One form: a section to describe or a step to write down."""

    group: str
    title: str
    button: str
    fields: tuple[FilledField, ...]
    more: tuple[FilledField, ...]
    known: bool = True


@dataclass(frozen=True)
class StageView:
    """What lives on the page: it is drawn anew with every changed value."""

    stage: str
    title: str
    status: str
    sentence: str
    drawings: tuple[Markup, ...]
    details: tuple[Markup, ...]
    rows: tuple[tuple[str, str], ...]
    more_rows: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    warnings: tuple[str, ...]
    whys: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True)
class Ticks:
    """The mounting list: what is ticked, and the one that comes next."""

    entries: tuple[tuple[str, str, bool], ...]
    following: str


@dataclass(frozen=True)
class Reports:
    """What every stage says, and which one is next."""

    stages: Mapping[str, StageReport] = field(default_factory=dict)
    following: str = HANDOVER

    @property
    def next_sentence(self) -> str:
        """Return the one next move."""
        if self.following == HANDOVER:
            return "All stages are gone through: print the handover paper and hand it over."
        return self.stages[self.following].sentence


def stage_names() -> tuple[str, ...]:
    """Return the stages that have a page, in the order of the work."""
    return (*STAGES, HANDOVER)


@lru_cache(maxsize=256)
def stage_report(stage: str, state: JobState) -> StageReport:
    """Return what a stage says; what can't be worked out is its sentence. The same state is worked out once."""
    try:
        return STAGES[stage](state)
    except BenchError as error:
        return StageReport(stage, "unknown", f"This can't be worked out: {error}.")


def all_reports(state: JobState) -> Reports:
    """Return what every stage says. The next one is the first that is open or can't be worked out."""
    stages = {stage: stage_report(stage, state) for stage in STAGES}
    following = next((stage for stage, report in stages.items() if report.status == "open"), HANDOVER)
    return Reports(stages, following)


def handover_report(state: JobState, reports: Reports) -> StageReport:
    """Return what stands above the handover paper."""
    done = reports.following == HANDOVER
    sentence = (
        reports.next_sentence if done else f"Not finished. Next, {reports.following}: {reports.next_sentence}"
    )
    square = reports.stages.get("square")
    values = square.values if square else {}
    planned = Plan(tuple(reports.stages.values()), reports.following, reports.next_sentence)
    rows = tuple(
        (setting.name, f"{setting.left or '–'} (found: {setting.found or '–'})")
        for setting in comparison(state, planned)
    )
    return StageReport(HANDOVER, "done" if done else "open", sentence, rows, values=values)


def stage_view(state: JobState, report: StageReport) -> StageView:
    """Return what lives on a stage's page."""
    shown = stage_drawings(state, report)
    main = MAIN_ROWS.get(report.stage)
    rows = () if report.stage == "mount" else tuple((name, with_minus(value)) for name, value in report.rows)
    first = rows if main is None else tuple(row for name in main for row in rows if row[0] == name)
    return StageView(
        stage=report.stage,
        title=TITLES.get(report.stage, report.stage),
        status=report.status,
        sentence=with_minus(report.sentence),
        drawings=tuple(Markup(inline_svg(entry.drawing)) for entry in shown if not entry.detail),
        details=tuple(Markup(inline_svg(entry.drawing)) for entry in shown if entry.detail),
        rows=first,
        more_rows=tuple(row for row in rows if row not in first),
        cautions=report.cautions,
        warnings=tuple(with_minus(warning) for warning in report.warnings),
        whys=tuple(
            (why.number, with_minus(why.formula), with_minus(", ".join(f"{k} = {v}" for k, v in why.inputs.items())),
             why.source)
            for why in report.whys
        ),
    )  # fmt: skip


def section_forms(
    stage: str, state: JobState, typed: Mapping[str, str], errors: Mapping[str, str]
) -> list[Form]:
    """Return the forms that describe; what was typed and not taken stands in them again."""
    forms = []
    for section in SECTIONS.get(stage, ()):
        record = getattr(state, section)
        values = record_values(section, record)
        filled = [
            _filled(section, key, SECTION_FIELDS[section][key], typed, errors, value)
            for key, value in values.items()
        ]
        few = FEW[section]
        known = record is not None and any(values.values())
        forms.append(
            Form(
                section,
                SECTION_NAMES[section],
                "Save",
                tuple(filled[:few]),
                tuple(filled[few:]),
                known,
            )
        )
    return forms


def step_forms(
    stage: str, report: StageReport, typed: Mapping[str, str], errors: Mapping[str, str]
) -> list[Form]:
    """Return the forms that write a step down."""
    forms = []
    kinds = STEPS.get(stage, ())
    if report.values.get("verdict") == "adjust":  # what the next move asks for comes first
        kinds = tuple(sorted(kinds, key=lambda kind: kind != "moved"))
    for kind in kinds:
        title, button = STEP_HEADS[kind]
        known = _preset(kind, report.values)
        filled = [
            _filled(kind, key, field, typed, errors, known.get(key, ""))
            for key, field in STEP_FIELDS[kind].items()
        ]
        usual = [entry for entry in filled if entry.name.split(".")[1] not in SELDOM]
        seldom = [entry for entry in filled if entry.name.split(".")[1] in SELDOM]
        forms.append(Form(kind, title, button, tuple(usual), tuple(seldom)))
    return forms


SELDOM = ("reading_sd_deg", "above_record_mm", "sd_db", "sd_deg", "vertical_tracking_deg")
"""Values of a step that have a usual one."""


def _preset(kind: str, values: Mapping[str, object]) -> dict[str, str]:
    """Return what a step's fields start from: the move that was advised, the force that is wanted."""
    wanted = {
        "moved": (("slide_mm", "slide_mm", 1), ("turn_deg", "turn_deg", 1)),
        "weighed": (("force_gf", "target_force_gf", 2),),
    }
    preset = {}
    for key, name, places in wanted.get(kind, ()):
        value = values.get(name)
        if isinstance(value, float):
            preset[key] = shown_value(kind, key, round(value, places) + 0.0)
    if kind == "weighed":
        preset["above_record_mm"] = "0"
    return preset


def _filled(
    group: str,
    key: str,
    field_: Field,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    value: str,
) -> FilledField:
    name = f"{group}.{key}"
    return FilledField(name, field_, typed.get(name, value), errors.get(name, ""), inches(field_, value))


def inches(field_: Field, value: str) -> str:
    """Return a length in inches, to a hundredth of those of an arm, a thousandth of shorter ones; else nothing."""
    if field_.unit != "mm" or not value:
        return ""
    try:
        millimetres = float(value.replace(",", "."))
    except ValueError:  # typed with a unit of its own
        return ""
    return with_minus(f"{millimetres / 25.4:.{2 if abs(millimetres) >= 100.0 else 3}f} in")


def ticks(state: JobState) -> Ticks:
    """Return the mounting list."""
    entries = tuple((what, text, what in state.checks) for what, text in MOUNT_CHECKS.items())
    return Ticks(entries, next((what for what, _, done in entries if not done), ""))


def view_of_log(log: Log, stage: str) -> tuple[JobState, StageView]:
    """Return the state of a log and one stage's view of it."""
    state = fold(log)
    report = handover_report(state, all_reports(state)) if stage == HANDOVER else stage_report(stage, state)
    return state, stage_view(state, report)


def trial_fields(
    names: Sequence[tuple[str, str]],
    state: JobState,
    tried: Mapping[tuple[str, str], str],
    report: StageReport,
) -> tuple[FilledField, ...]:
    """Return the fields of a what-if: what is tried, else what the job says."""
    filled = []
    for group, key in names:
        if group in SECTION_FIELDS:
            value = record_values(group, getattr(state, group))[key]
            asked = SECTION_FIELDS[group][key]
        else:
            value = _trial_start(group, key, report)
            asked = STEP_FIELDS[group][key]
        filled.append(FilledField(f"{group}.{key}", asked, tried.get((group, key), value)))
    return tuple(filled)


def _trial_start(group: str, key: str, report: StageReport) -> str:
    if group == "moved":
        return "0"
    force = report.values.get("force_gf", report.values.get("target_force_gf"))
    return f"{force:.2f}" if key == "force_gf" and isinstance(force, float) else ""
