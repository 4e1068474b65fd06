"""What the runs of a job say beyond their lengths: observations, the next experiment, and when none is safe."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from leakdown.jobs.complaint_answers import answers_in_record, words_of
from leakdown.jobs.engine_runs import counted_runs, run_words, runs_of, story_sentence
from leakdown.jobs.job_verdict import ENGINE, job_verdict
from leakdown.jobs.record import Job
from leakdown.quantities import significant
from leakdown.runs.compare import compared
from leakdown.runs.run import Run
from leakdown.runs.shows import Contrast, contrasts, shown
from leakdown.tuned import text, tuned
from leakdown.words.runs import comparison_lines, comparison_object, safety_lines

_T = tuned("jobs")


def why_no_run(job: Job) -> str:
    """Why the engine should not run before a leak test; "" where nothing bars it.

    The crankcase failed or was not tested to the end since the last work, and the engine runs hot, lean or races,
    or may be scored.
    """
    crankcase = next((c for c in job_verdict(job).circuits if c.circuit == ENGINE), None)
    if crankcase is not None and crankcase.word == "pass":
        return ""
    said = [i for i, seen in answers_in_record(job) if seen and i in _T.lean_or_hot]
    if not said:
        return ""
    state = "failed its leak test" if crankcase is not None and crankcase.word == "fail" else "has no passed leak test"
    return f"the crankcase {state}, and the engine {'; '.join(words_of(said))}"


def runs_object(job: Job) -> dict[str, object]:
    """The JSON object of `job runs`."""
    repairs = len(job.notes("repair"))
    return {
        "reference": job.reference,
        "runs": [
            {
                "number": r.number,
                "ran_s": r.run.ran_s,
                "ended": r.run.ended,
                "fuel": r.run.fuel or None,
                "warm": r.run.warm,
                "with": r.run.fitted or None,
                "note": r.text or None,
                "stage": "after" if r.run.period == repairs > 0 else "before",
                "period": r.run.period,
            }
            for r in runs_of(job)
        ],
        "comparison": comparison_object(compared(counted_runs(job), repairs)),
        "observations": [c.id for c in shown(counted_runs(job))],
        "story": story_sentence(job),
        "leak_test_first": why_no_run(job) or None,
    }


def runs_lines(job: Job) -> list[str]:
    """What `job runs` prints: the runs, the comparison, what they show, what to do next."""
    runs, barred = counted_runs(job), why_no_run(job)
    lines = [f"{r.number}  {run_words(r.run)}" + (f" ({r.text})" if r.text else "") for r in runs_of(job)]
    lines.append(story_sentence(job) or "No run is in the record: leakdown job run REF DURATION --ended died.")
    if runs:
        repairs = len(job.notes("repair"))
        found = compared(runs, repairs)
        lines += comparison_lines(found, bool(repairs), propose=not barred, tried=len({r.period for r in runs}) - 1)
        lines += _not_noted(runs)
    lines += [text("runs", "shows", says="; ".join(words_of([c.id])), reason=c.reason) for c in shown(runs)]
    if barred:
        return [*lines, text("runs", "leak-first", why=barred)]
    return [*lines, *_experiment(runs), *safety_lines()]


def _not_noted(runs: Sequence[Run]) -> list[str]:
    both = len({r.period for r in runs}) > 1
    return [text("runs", "not-noted")] if both and any(not r.fuel or r.warm is None for r in runs) else []


def _experiment(runs: Sequence[Run]) -> list[str]:
    """The cheapest safe experiment on the cause, while the engine still dies, with what each outcome means."""
    now = [r for r in runs if r.period == runs[-1].period]
    if not now or not now[-1].event or shown(runs):
        return []
    fuel = next((c for c in contrasts(now) if c.kind == "fuel"), None)
    lines = [text("runs", "cap-try")]
    if fuel is not None:
        p, least = significant(fuel.p, 2), significant(fuel.least, 2)
        lines.append(text("runs", "fuel-open", first=fuel.first, second=fuel.second, p=p, least=least))
        lines.append(_fuel_try(now, fuel))
    return lines


def _fuel_try(now: Sequence[Run], fuel: Contrast) -> str:
    first, second = max(1, 3 - fuel.first), max(1, 3 - fuel.second)
    running = (first + second) * statistics.median(r.ran_s for r in now) / 60.0
    minutes = round(running + (first + second) * _T.start_again_min + _T.cool_before_refuelling_min)
    return text("runs", "fuel-try", first=first, second=second, minutes=minutes)
