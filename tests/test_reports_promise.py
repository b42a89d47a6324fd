"""The promise of ``--json``: which fields there are, that each says what it is, and what it holds.

A field that goes, or comes to mean something else, is a new version of the reports.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from test_reports_bench import AGAIN, BASELINE, LOUD, SWAP, replayed, written

from cablewalk import __version__
from cablewalk.checks.run import check
from cablewalk.files.place import Source
from cablewalk.reports.catalogue import REPORTS, report_schema
from cablewalk.reports.checked import check_report
from cablewalk.reports.electrical import loads_report
from cablewalk.reports.halt import halt_report
from cablewalk.reports.heading import Report
from cablewalk.reports.outages import outages_report
from cablewalk.reports.replay import replay_report
from cablewalk.reports.text import report_json
from cablewalk.reports.thermal import zones_report
from cablewalk.timeline.account import Account

PROMISED = {
    "ActionRow": """
        because_of begin_min begin_pet best_min changes end_min end_pet likely_min
        outcome people refusal shifts text verb worst_min
    """,
    "ActorRow": """
        behind_min holds last_number last_pet last_text next_action_number
        next_cautions next_done_already next_impossible next_planned_pet next_say
        next_step next_text person place roles waits_for
    """,
    "AskedRow": """
        item kind label obstacles of place state where why
    """,
    "BareRow": """
        half label skipped state
    """,
    "BaselineRow": """
        file id sha256 title
    """,
    "BystanderRow": """
        kind label service
    """,
    "CapRow": """
        cap electrical label own state where
    """,
    "ChangeRow": """
        facts item kind label now place retest section strings was
    """,
    "CheckReport": """
        limits_judged limits_not_judged
        baseline cablewalk end_min findings get_aheads not_sampled phases procedures
        report rules runs stopped touches version waived
    """,
    "ClockChanceRow": """
        chance_over clock_min clock_source
    """,
    "ClockRow": """
        accumulates clock_conditions clock_min clock_source clock_starts margin_min
        reconnect_by_min reconnect_by_pet resets_after_up_min runs_out_min runs_out_pet
        used_before_min used_min
    """,
    "ClocksRow": """
        demated_min is_down service up_min used_min
    """,
    "CompareReport": """
        actions cablewalk corrections findings log now_pet now_utc outcomes report
        unplanned version
    """,
    "ComparedRow": """
        action_number begin_assumed begin_pet deviations done_by done_text end_pet
        entries get_ahead late_min outcome phase planned_begin_pet planned_by
        planned_end_pet planned_min planned_text step took_min
    """,
    "ConnectorReport": """
        cablewalk entries findings halves log now_pet now_utc report version
    """,
    "ConnectorRow": """
        by cap_fitted did half inspection label lock_verified mate mates number
        outcome pet phase reason state step utc witness
    """,
    "CurrentRow": """
        amps conductor kind name ohm ohm_source
    """,
    "CycleRow": """
        demates half label left limit mates mates_at_start source
    """,
    "DarkRow": """
        dark_min found_down lost_by seen_only service since_utc used_before_min
    """,
    "DifferenceTable": """
        after before things ways
    """,
    "EntryRow": """
        action_number actors began_pet cap_fitted closes corrected_by correction_reason
        corrects doubt entered_by entered_utc inspection items kind lock_verified number open_item
        outcome pet reason step text utc void witness
    """,
    "ExportReport": """
        cablewalk entries findings log now_pet now_utc report version
    """,
    "ExtraRow": """
        adds_min fits id phase phase_number title why_not
    """,
    "FactRow": """
        after before fact item
    """,
    "FeedRow": """
        amps feed limit_a limit_source volts
    """,
    "FindingRow": """
        because_of difference expected file found items line phase phase_number rule
        severity source step way_out
    """,
    "FitRow": """
        because fits get_ahead phase priority title
    """,
    "ForecastReport": """
        cablewalk findings get_aheads log now_pet now_utc outages phases report
        steps to_come version
    """,
    "GetAheadRow": """
        entered id phase priority steps title
    """,
    "GrowthRow": """
        grows_min phase step
    """,
    "HalfRow": """
        caps half label leg mated_to on on_kind on_label parked place rides role
        state there under_way
    """,
    "HandoverReport": """
        actual_minutes bare cablewalk clocks dark dark_until_utc findings found left_utc
        log not_done now_pet now_utc open_items report retest skipped unfinished
        told_as_one unlocked upheld used_min version without_begin
    """,
    "HopRow": """
        contacts far near sure
    """,
    "ImpossibleRow": """
        action_number expected follows is_next people phase phase_number step text
        way_out why
    """,
    "JoinRow": """
        a b
    """,
    "LegRow": """
        along segment state ties where where_kind
    """,
    "LimitRow": """
        by_min by_pet chance_over decision margin_p90_min otherwise p50_pet p90_pet
        phase phase_number source step what
    """,
    "LineRow": """
        harnesses joins line segments
    """,
    "LoadRow": """
        amps load min_volts volts
    """,
    "LoadsReport": """
        after_step baseline cablewalk currents end_min feeds findings get_aheads
        loads not_known phases procedures report resistances stopped strings version
    """,
    "LogRow": """
        baseline damage events file hardware head phase phase_number zero_utc
    """,
    "LossRow": """
        services taken_as
    """,
    "MarginRow": """
        at_min at_pet by_phase by_step conductor kind left limit limit_basis limit_source
        missing on past resistances used_percent value
    """,
    "MatchRow": """
        half here label mated obstacles place role state
    """,
    "MeasuredRow": """
        at_min measured_c
    """,
    "MinutesRow": """
        count least_min median_min most_min planned_min verb
    """,
    "MissingRow": """
        because phase what
    """,
    "MomentRow": """
        at_min at_pet phase step words
    """,
    "NowReport": """
        actions_over actions_planned actors cablewalk down findings impossible last
        log not_whole now_pet now_utc open_items report skipped to_come unfinished
        version
    """,
    "OpenRow": """
        contact state
    """,
    "OutageForecast": """
        allowed_min at_risk at_start back_pet dark_min from_pet margin_min
        only_at_worst reconnect_by_pet reconnect_by_utc retired service source
        worst_margin_min
    """,
    "OutageRow": """
        chance_not_back over_clock_min
        accumulates at_start chance chance_over clock_min clock_source clocks
        duration_min from_min from_pet kind label lost_by_phase lost_by_step margin_min
        p90_min planned planned_because reasons reconnect_by_min reconnect_by_pet
        recovery_min restored_by_phase restored_by_step retired retired_by_phase said_dark
        retired_by_step runs_out_min runs_out_pet service to_min to_pet used_before_min
        used_min verified_min verified_pet
    """,
    "OutageSpreadRow": """
        back_p90_pet chance classical_mean_min classical_p90_min clocks dark growths
        kind label likely_min lost_by_phase lost_by_step merge_min not_back service
    """,
    "OutagesReport": """
        limits_not_judged
        baseline bystanders cablewalk end_min established findings get_aheads
        given_up_services impossible in_some_runs loads loads_not_known
        not_judged_in_own_order not_sampled outages phases procedures reduced report
        rerouted retired runs runs_given_up stopped strings_left unproven version zones
    """,
    "Pet": """
        pet phase phase_number
    """,
    "PhaseForecast": """
        begin_pet begin_utc begun behind_min end_pet end_utc phase phase_number
        planned_end_pet worst_end_pet worst_end_utc
    """,
    "PhaseRow": """
        complete end_min end_pet gap_min length_min number procedure roles start_min
        start_pet steps zero_min
    """,
    "PhaseSpreadRow": """
        classical_mean_min classical_p90_min finish merge_min p10_pet p50_pet
        p90_pet phase phase_number spread varies
    """,
    "PointRow": """
        at_min estimated_c
    """,
    "ProcedureRow": """
        end_min file id sha256 start_min title
    """,
    "Quantiles": """
        mean_min p10_min p50_min p90_min
    """,
    "ReasonRow": """
        harness harness_label item item_label line step verb
    """,
    "RefusedRow": """
        chance phase step verb
    """,
    "ReplayReport": """
        baseline cablewalk end_min findings get_aheads phases procedures report
        services_at_end services_at_start steps stopped version
    """,
    "RetestRow": """
        disturbed_by not_back service state strings
    """,
    "RideRow": """
        contacts service standing string unproven
    """,
    "RiderRow": """
        feed how kind lines service standing state string switches troubles unproven
    """,
    "RuleRow": """
        id satisfy source title waivable why
    """,
    "RunningClock": """
        back_pet dark_min left_min margin_min outage reconnect_by_pet reconnect_by_utc
        reconnected since_before why
    """,
    "ServiceClockRow": """
        chance_over clock_min clock_source service
    """,
    "ServiceLossRow": """
        after before kind label left need service strings verdict
    """,
    "ServiceRow": """
        kind label service state strings
    """,
    "SharedRow": """
        defeats item need others service strings
    """,
    "ShiftRow": """
        after at_min at_pet before begins kind label planned reasons recovery_min
        service strings_after strings_before tag
    """,
    "SomeRunsRow": """
        chance_not_back chance_over over_clock_min
        chance lost_by_phase lost_by_step p90_min service
    """,
    "SpellRow": """
        by_phase by_step duration_min ended_by_phase ended_by_step from_min from_pet
        kind label reasons service to_min to_pet
    """,
    "SpreadReport": """
        baseline cablewalk end_min error_of_a_share findings fits get_aheads
        given_up_services held_dark impossible limits limits_not_judged
        not_judged_in_own_order phases
        procedures report runs runs_given_up seed slip_min spread_clocks
        spread_outages spread_phases spread_steps stopped version
    """,
    "StandTable": """
        halves moment ways
    """,
    "StepForecast": """
        actions_left begin_pet behind_min end_pet impossible people phase
        phase_number planned_end_pet say step
    """,
    "StepRow": """
        actions begin_min begin_pet by cautions end_min end_pet findings get_ahead
        id indication people phase phase_number say
    """,
    "StepSpreadRow": """
        critical phase slack slack_likely_min step
    """,
    "StopRow": """
        before contacts harnesses structure sure terminals through
    """,
    "StringLoadRow": """
        margins service string surviving
    """,
    "StringLossRow": """
        after before string
    """,
    "StringRow": """
        standing string unproven
    """,
    "StringsLeftRow": """
        available by_phase by_step from_min from_pet need service up
    """,
    "TablesReport": """
        after baseline before cablewalk difference end_min findings get_aheads
        phases procedures report stopped version
    """,
    "TouchRow": """
        begins could_reach halves inhibits left_alive live no_switch phase proposed
        step verb verdict
    """,
    "TraceReport": """
        asked at_step baseline cablewalk can_mate end_min findings get_aheads phases
        procedures report riders shared stopped under_way version way would_lose
    """,
    "TurnRow": """
        at_min at_pet by_phase by_step kind label service string
    """,
    "WaivedRow": """
        authority finding reason scope
    """,
    "WayChangeRow": """
        end end_kind now opened place section start strings was
    """,
    "WayRow": """
        end end_kind end_state hops on on_label place start strings
    """,
    "WaysTable": """
        left_off rows
    """,
    "ZoneLossRow": """
        over_clock_min
        cautious_min chance_over_clock chance_over_estimate dark_min dark_p90_min
        estimated_by_min estimated_by_pet
        from_c from_min from_pet given_by_min given_by_pet governs limit_reached
        lost_again_cold lowest_c lowest_min lowest_pet recovers recovery_min service
        to_limit_min
    """,
    "ZoneRow": """
        curve fitted_constant_min judged label limit_high_c limit_high_source
        limit_low_c limit_low_source losses lowest_c lowest_min lowest_pet measured
        not_judged_because place services source start_c zone
    """,
    "ZonesReport": """
        baseline cablewalk end_min findings get_aheads given_up_services impossible
        in_some_runs not_judged_in_own_order not_sampled phases procedures report runs
        runs_given_up standing stopped version zones
    """,
    "BegunRow": """
        actions done following phase step""",
    "DeedRow": """
        action_number by phase step text""",
    "DownRow": """
        at_start clock_min clock_runs clock_source dark_min estimate_by_min estimate_by_pet
        estimate_zone from_min kind label left_min reconnect_by_min reconnect_by_pet
        restored_by_phase restored_by_step retired_by_phase retired_by_step said_dark
        service""",
    "HaltReport": """
        baseline cablewalk end_min findings get_aheads not_judged phases procedures report
        stopped stops version""",
    "HaltRow": """
        after after_steps at_min at_pet begun down good held last_good_min last_good_pet
        left live next_good_min next_good_pet pause_min pauses people phase phase_number
        recovering under_way weak""",
    "HeldRow": """
        holds id owner requires why_not""",
    "LiveHalfRow": """
        being feeds found_so half label state""",
    "PauseRow": """
        ends minutes""",
    "PersonRow": """
        holds person place""",
    "RecoveringRow": """
        back_min back_pet kind margin_min service""",
    "WeakRow": """
        kind service state strings""",
    "UpheldRow": """
        needs seen service why_down""",
}
"""Model to its fields, of version 1."""

BUILD: dict[str, Callable[[Account, Sequence[Source]], Report]] = {
    "check": lambda account, sources: check_report(check(account), sources, None, ""),
    "outages": outages_report,
    "zones": zones_report,
    "halt": halt_report,
    "loads": loads_report,
    "replay": replay_report,
}


def models() -> dict[str, dict[str, Any]]:
    """Return the properties of every model that a report is made of, by the model's name."""
    found = {}
    for name, model in REPORTS.items():
        schema = report_schema(name)
        parts = {**schema["$defs"], model.__name__: schema}
        found.update({part: body["properties"] for part, body in parts.items()})
    return found


def built(folder: Path, name: str, keep_going: bool = True, **documents: str) -> dict[str, Any]:
    """Return a report, written as JSON and read back; NaN and the like are refused."""
    account, sources = replayed(written(folder, **documents), keep_going)
    text = report_json(BUILD[name](account, sources))
    assert text.isascii()
    data = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))
    assert isinstance(data, dict)
    return data


def numbers(value: Any) -> Iterator[float]:
    """Yield every number in a JSON value."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for part in value:
            yield from numbers(part)
    elif isinstance(value, float):
        yield value


def test_fields_are_those_promised() -> None:
    seen = {name: set(properties) for name, properties in models().items()}
    assert seen == {name: set(fields.split()) for name, fields in PROMISED.items()}


def test_every_field_says_what_it_is() -> None:
    for name, properties in models().items():
        for field, body in properties.items():
            assert body.get("description", "").endswith("."), f"{name}.{field}"


def test_every_field_is_always_there() -> None:
    for name in REPORTS:
        schema = report_schema(name)
        for part in (schema, *schema["$defs"].values()):
            assert set(part["required"]) == set(part["properties"])


@pytest.mark.parametrize("name", BUILD)
@pytest.mark.parametrize("documents", [{"swap": SWAP, "again": AGAIN}, {"loud": LOUD}])
@pytest.mark.parametrize("keep_going", [False, True])
def test_report_fits_its_schema(
    tmp_path: Path, name: str, documents: dict[str, str], keep_going: bool
) -> None:
    data = built(tmp_path, name, keep_going, bench=BASELINE, **documents)
    schema = report_schema(name)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(data)
    assert (data["version"], data["report"], data["cablewalk"]) == (1, name, __version__)
    found = list(numbers(data))
    assert found
    assert all(math.isfinite(number) for number in found)


def test_schema_refuses_another_report(tmp_path: Path) -> None:
    data = built(tmp_path, "outages", bench=BASELINE, swap=SWAP)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(report_schema("replay")).validate(data)


def test_two_builds_are_the_same(tmp_path: Path) -> None:
    account, sources = replayed(written(tmp_path, bench=BASELINE, loud=LOUD), keep_going=True)
    again, its_sources = replayed(written(tmp_path, bench=BASELINE, loud=LOUD), keep_going=True)
    for build in BUILD.values():
        assert report_json(build(account, sources)) == report_json(build(again, its_sources))
