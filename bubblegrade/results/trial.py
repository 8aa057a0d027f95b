"""A trial on disk: trial.json in full, settings.csv with a row a setting, cups.csv with a row a cup."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any, Final

import numpy as np

from bubblegrade.grading.estimate import UNKNOWN, Estimate
from bubblegrade.pressure.cautions import PRESSURE
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.poured import Poured
from bubblegrade.pressure.situation import Limits
from bubblegrade.pressure.suspects import SUSPECT_WORDS
from bubblegrade.pressure.trial import Told, Trial
from bubblegrade.pressure.verdict_words import FLAG_WORDS, verdict_sentence
from bubblegrade.results.casting_row import BETWEEN
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run_json import to_json
from bubblegrade.results.tables import csv_text

TRIAL_FILE: Final = "trial.json"
FORMAT: Final = 1  # of trial.json; grows when a field goes or changes its meaning

Part = dict[str, Any]


def write_trial(folder: ResultFolder, trial: Trial, *, version: str, graded: Part) -> str:
    """Write a trial's tables and trial.json; return the latter's text. `graded` is what `asked_record` returns."""
    settings = [_cells(_setting(told, trial.question.unit)) for told in trial.settings]
    cups = [_cells(_cup(cup, trial.question.unit)) for cup in trial.cups]
    folder.write_text("settings.csv", csv_text(list(settings[0]), settings))
    folder.write_text("cups.csv", csv_text(list(cups[0]), cups))
    text = to_json(trial_record(trial, version=version, graded=graded))
    folder.write_text(TRIAL_FILE, text)
    return text


def trial_record(trial: Trial, *, version: str, graded: Part) -> Part:
    """Return a trial as trial.json holds it; the schema beside this module describes every field."""
    said, question = trial.comparison, trial.question
    return {
        "format": FORMAT,
        "version": version,
        "graded": graded,
        "verdict": said.verdict,
        "verdict_words": verdict_sentence(said),
        **_limits("exponent", said.exponent),
        "exponent_err": said.fit.exponent_err,
        "boyle_exponent": BOYLE_EXPONENT,
        **_evidence(trial),
        "flags": [{"flag": flag, "words": FLAG_WORDS[flag]} for flag in said.flags],
        "suspects": [{**asdict(each), "words": SUSPECT_WORDS[each.suspect]} for each in said.suspects],
        "reference": said.reference,
        "settings": [_setting(told, question.unit) for told in trial.settings],
        "cups": [_cup(cup, question.unit) for cup in trial.cups],
        "decision": _decision(trial),
        "advice": [asdict(each) for each in trial.advice],
        "cautions": [each.text for each in PRESSURE],
        "atmosphere": {"kpa": question.air.kpa, "source": question.air.source},
        "limits": _pot(question.limits),
        "unit": question.unit,
        "warnings": list(trial.warnings),
    }


def _evidence(trial: Trial) -> Part:
    """Return what the verdict rests on."""
    said, found = trial.comparison, trial.comparison.findings
    return {
        "pooled_exponent": found.pooled,
        "free_exponent": found.check.exponent,
        "recut_exponents": [asdict(each) for each in found.recuts.rows],
        "cut_drift": found.recuts.drift,
        "spread_trend": found.spread_trend,
        "void_trend": found.void_trend,
        "effective_share": said.effective_share,
        "basis": said.fit.grouping.basis,
        "cup_spread": said.cup_spread.value,
        "cup_spread_low": said.cup_spread.low,
        "cup_spread_high": said.cup_spread.high,
        "assumed_cup_spread": said.fit.assumed_spread if found.assumed else None,
        "spread_to_agree": said.spread_to_agree,
        "needed": said.needed,
        "open_air": {
            "median": said.fit.median,
            "log_sd": said.fit.spread,
            "voids_in_cup": said.fit.voids_per_cup,
        },
    }


def _setting(told: Told, unit: str) -> Part:
    """Return one setting; estimates keep their intervals, and without voids there are no sizes."""
    row = told.row
    return {
        "setting": told.name,
        "gauge_psi": float(np.mean([cup.stated.gauge.psig for cup in told.cups])),
        "absolute_kpa": told.absolute_kpa,
        "cups": len(told.cups),
        "empty_cups": sum(not cup.countable.size for cup in told.cups),
        "voids": told.voids,
        "seen_share": row.seen_share if row else math.nan,
        "extrapolated": row.extrapolated if row else None,
        f"median_{unit}": row.median if row else UNKNOWN,
        "diameter_ratio": row.diameter_ratio if row else UNKNOWN,
        "boyle_diameter_ratio": row.boyle_diameter_ratio if row else math.nan,
        "volume_ratio": row.volume_ratio if row else UNKNOWN,
        "boyle_volume_ratio": row.boyle_volume_ratio if row else math.nan,
        "naive_diameter_ratio": row.naive_ratio if row else math.nan,
        "naive_expected_ratio": row.naive_expected if row else math.nan,
        "naive_off_share": row.naive_off if row else math.nan,
        "exponent": row.exponent if row else UNKNOWN,
        "effective_psi": told.effective_psig,
        "effective_share": row.effective_share if row and not row.is_reference else UNKNOWN,
        "basis": row.basis if row else None,
        "verdict": told.verdict,
    }


def _cup(cup: Poured, unit: str) -> Part:
    """Return one cup: what was said of it and what was seen."""
    stated, pattern = cup.stated, cup.pattern
    told = pattern is not None and pattern.known
    return {
        "photo": cup.photo,
        "setting": stated.setting,
        "gauge_psi": stated.gauge.psig,
        "absolute_kpa": stated.absolute_kpa,
        "atmosphere_kpa": stated.air.kpa,
        "atmosphere_source": stated.air.source,
        "temperature_close_k": stated.closed_k,
        "temperature_gel_k": stated.gelled_k,
        "gel_s": stated.gel_s,
        "pressurised_after_s": stated.full_pressure_s,
        "released_after_s": stated.let_off_s,
        **{name: getattr(stated, name) for name in ("mix", "recipe", "resin", "cup")},
        "voids": int(cup.countable.size),
        f"smallest_countable_{unit}": cup.smallest,
        f"median_seen_{unit}": float(np.median(cup.countable)) if cup.countable.size else math.nan,
        "volume_cm3": cup.volume_cm3,
        "fit": not cup.unfit,
        "pattern": "unknown" if not told else "found" if pattern and pattern.suspects else "none",
        "pattern_causes": [suspect.cause for suspect in pattern.suspects] if pattern else [],
        "pattern_answers": _answers(cup),
        "sha256": cup.sha256,
    }


def _answers(cup: Poured) -> list[Part]:
    """Return what was asked of the places of a cup's voids."""
    answers = cup.pattern.answers if cup.pattern is not None and cup.pattern.known else ()
    names = ("question", "value", "expected", "low", "high", "p", "p_corrected", "found")
    return [{name: getattr(answer, name) for name in names} for answer in answers]


def _decision(trial: Trial) -> Part | None:
    """Return the pressure that is enough, and the table of pressures."""
    decision = trial.decision
    if decision is None:
        return None
    rows = [
        {
            "gauge_psi": row.gauge.psig,
            "diameter_ratio": row.diameter_ratio,
            "voids": row.voids,
            "next_gain_share": row.next_gain_share,
        }
        for row in trial.rows
    ]
    return {
        "visible_mm": decision.visible_mm,
        "tolerated": decision.tolerated,
        "casting_cm3": decision.casting_cm3,
        "enough_psi": decision.enough_psig,
        "highest_tested_psi": decision.highest_tested_psig,
        "beyond_tested": decision.beyond_tested,
        "below_limit": decision.below_limit,
        "stopped": trial.stopped,
        "rows": rows,
    }


def _pot(limits: Limits) -> Part:
    """Return the limits in psi gauge; None where none was given."""
    each = {"rated_psi": limits.rated, "relief_psi": limits.relief, "mould_psi": limits.mould}
    return {name: None if limit is None else limit.psig for name, limit in each.items()}


def _cells(part: Part) -> Part:
    """Return a part as cells of a table: estimates as three, lists as text, records left out."""
    cells: Part = {}
    for name, held in part.items():
        if isinstance(held, Estimate):
            cells |= _limits(name, held)
        elif not isinstance(held, list):
            cells[name] = held
        elif not any(isinstance(each, dict) for each in held) and not name.endswith("answers"):
            cells[name] = BETWEEN.join(held)
    return cells


def _limits(name: str, estimate: Estimate) -> Part:
    """Return an estimate as three fields."""
    return {name: estimate.value, f"{name}_low": estimate.low, f"{name}_high": estimate.high}
