"""The JSON of the reading commands. Keys stay as they are written here; new ones may be added.

Times are ISO 8601 with the offset of the farm; values are in the canonical unit that stands beside them
(`Cel`, `%RH`, `/` for a ratio, `lx`, `V`, `ppm`, `Pa`, `min`, `h`). What is not known is null. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import tzinfo
from typing import Any

from monitor.model.alarm_metrics import AlarmHealth
from monitor.records import QUANTITIES, Transition
from monitor.settings.plan import Plan
from monitor.views.nodes_text import ArchiveNow, faults, is_unknown, toml_lines
from monitor.views.now_text import state_of
from monitor.views.spoken_time import iso
from monitor.views.view_records import ActiveAlarm, Current, NightSummary, NodeRow, PlaceNow, SiteNow

Json = dict[str, Any]


def now_json(site: SiteNow, numbers: Mapping[str, int], zone: tzinfo) -> Json:
    """`now --json`: site, at, wrong, service {alive, last_alive}, places [...], site_alarms [...].

    A place: id, title, kind, state (high, medium, low, unknown, fine, empty), values, alarms.
    """
    return {
        "site": site.title,
        "at": iso(site.now_ms, zone),
        "wrong": site.wrong,
        "service": {"alive": site.service_alive, "last_alive": iso(site.last_alive_ms, zone)},
        "places": [_place(place, numbers, zone) for place in site.places],
        "site_alarms": [alarm_json(alarm, numbers, zone) for alarm in site.site_alarms],
    }


def _place(place: PlaceNow, numbers: Mapping[str, int], zone: tzinfo) -> Json:
    return {
        "id": place.id,
        "title": place.title,
        "kind": place.kind.value,
        "state": state_of(place),
        "values": [_value(value, zone) for value in place.current],
        "alarms": [alarm_json(alarm, numbers, zone) for alarm in place.alarms],
    }


def _value(value: Current, zone: tzinfo) -> Json:
    return {
        "quantity": value.quantity,
        "node": value.node,
        "probe": value.probe,
        "at": iso(value.at_ms, zone),
        "value": _number(value.value),
        "unit": unit(value.quantity),
        "flag": int(value.flag),
        "stale": value.stale,
    }


def alarm_json(alarm: ActiveAlarm, numbers: Mapping[str, int], zone: tzinfo) -> Json:
    """One alarm: what it is about, its state, and what to do."""
    rule, state = alarm.rule, alarm.state
    return {
        "alarm": rule.alarm_id,
        "number": numbers[rule.alarm_id],
        "place": rule.place,
        "title": alarm.title,
        "quantity": rule.quantity,
        "unit": unit(rule.quantity),
        "side": rule.side.value,
        "setpoint": rule.setpoint,
        "priority": rule.priority.value,
        "status": state.status.value,
        "active": state.active,
        "stale": state.stale,
        "value": _number(alarm.value),
        "since": iso(state.since_ms, zone),
        "last_true": iso(state.last_true_ms, zone),
        "shelved_until": iso(state.shelved_until_ms, zone),
        "consequence": rule.consequence,
        "response": rule.response,
        "caution": rule.caution,
    }


def transition_json(row: Transition, zone: tzinfo) -> Json:
    """`alarms --journal --json`: one change of one alarm."""
    return {
        "alarm": row.alarm_id,
        "place": row.place,
        "quantity": row.quantity,
        "unit": unit(row.quantity),
        "priority": row.priority.value,
        "event": row.event.value,
        "before": row.before.value,
        "after": row.after.value,
        "at": iso(row.at_ms, zone),
        "processed": iso(row.processed_ms, zone),
        "value": _number(row.value),
        "setpoint": row.setpoint,
        "actor": row.actor,
        "reason": row.reason,
    }


def health_json(found: AlarmHealth) -> Json:
    """`alarms --health --json`: the measures under their own names."""
    plain = asdict(found)
    plain["most_frequent"] = [{"alarm": name, "count": count} for name, count in found.most_frequent]
    plain["stale"] = [{"alarm": name, "hours": hours} for name, hours in found.stale]
    plain["priority_shares"] = {str(name): share for name, share in found.priority_shares.items()}
    return plain


def nodes_json(
    rows: Iterable[NodeRow],
    plan: Plan,
    calibrated_ms: Mapping[str, int],
    toml: Mapping[str, str],
    archive: ArchiveNow | None,
    zone: tzinfo,
) -> Json:
    """`nodes --json`: nodes [...], archive {waiting, oldest_waiting, refused, last_error} or null.

    A node that the settings do not name has `known` false and the lines to add in `toml`.
    """
    return {
        "nodes": [_node(row, plan, calibrated_ms, toml, zone) for row in rows],
        "archive": None
        if archive is None
        else {
            "waiting": archive.waiting,
            "oldest_waiting": iso(archive.oldest_waiting_ms, zone),
            "refused": archive.refused,
            "last_error": archive.last_error,
        },
    }


def _node(
    row: NodeRow, plan: Plan, calibrated_ms: Mapping[str, int], toml: Mapping[str, str], zone: tzinfo
) -> Json:
    facts, was_heard = row.facts, row.facts.messages > 0
    return {
        "node": facts.node,
        "known": not is_unknown(row, plan),
        "place": row.place,
        "placed": row.placed,
        "silent": row.silent,
        "online": facts.online,
        "first_heard": iso(facts.first_heard_ms, zone) if was_heard else None,
        "last_heard": iso(facts.last_heard_ms, zone) if was_heard else None,
        "battery_v": _number(row.battery_v),
        "messages": facts.messages,
        "missing": facts.missing,
        "duplicates": facts.duplicates,
        "conflicts": facts.conflicts,
        "rejected": facts.rejected,
        "last_reject": iso(facts.last_reject_ms, zone),
        "last_reject_reason": facts.last_reject_reason,
        "last_reject_sample": facts.last_reject_sample.decode("utf-8", "backslashreplace"),
        "clock_fault": facts.clock_fault,
        "calibrated": iso(calibrated_ms.get(facts.node), zone),
        "faults": list(faults(row, plan)),
        "toml": toml.get(facts.node),
    }


def unknown_toml(rows: Iterable[NodeRow], sensors: Iterable[Any], plan: Plan) -> dict[str, str]:
    """The lines for farm.toml of each board that the settings do not name."""
    heard_of = list(sensors)
    return {
        row.facts.node: "\n".join(toml_lines(row.facts.node, heard_of, plan)) + "\n"
        for row in rows
        if is_unknown(row, plan)
    }


def night_json(night: NightSummary, text: str, numbers: Mapping[str, int], zone: tzinfo) -> Json:
    """`night --json`: the fields of the report, each `..._ms` as a time without that ending; and its text."""
    told = _timed(asdict(night), zone)
    told["still_active"] = [alarm_json(alarm, numbers, zone) for alarm in night.still_active]
    told["downtime"] = [{"start": iso(start, zone), "end": iso(end, zone)} for start, end in night.downtime]
    told["text"] = text
    return dict(told)


def _timed(value: Any, zone: tzinfo) -> Any:
    """The same with ISO times: a key that ends in _ms loses that ending."""
    if isinstance(value, Mapping):
        return {
            key.removesuffix("_ms"): iso(each, zone) if key.endswith("_ms") else _timed(each, zone)
            for key, each in value.items()
        }
    if isinstance(value, list | tuple):
        return [_timed(each, zone) for each in value]
    return value


def unit(quantity: str) -> str:
    """The canonical unit of a quantity, as SenML writes it."""
    return QUANTITIES[quantity].unit if quantity in QUANTITIES else ""


def _number(value: float | None) -> float | None:
    """JSON knows no NaN."""
    return None if value is None or value != value else value
