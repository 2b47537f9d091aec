import re
import uuid

from django.db import migrations, models

from fleet.guards import AppendOnly

HOUSING_PARTS = {"housing", "pads", "bumpers and stops", "crane hook-up"}
OF_HOUSING = re.compile(
    r"\b(pads?|travel|stops|stop (?:plates?|marks?|blocks?)|bumpers?|frames?|housings?)\b", re.I
)
POSITION = re.compile(r"\b[AB](\d{1,2})\b")
KIND_OF_HOUSING = re.compile(r"pad|housing|travel", re.I)
WHY = (
    "Kept at housing {unit} until each machine got records of its own; put to {machine}, which was "
    "there when they were made."
)
FORMER = " Until then they counted for {hammer}, which hangs on {unit} now."


def put_to_machines(apps, schema_editor):
    """Put every record to the machine it belongs to, and post what was put where."""
    models = {
        name: apps.get_model("fleet", name)
        for name in ("Mounting", "ClampFitting", "PowerPackConnection", "OutOfService")
    }
    own = {
        name: apps.get_model("inspections", name)
        for name in ("Inspection", "Finding", "OwnKind", "ItemAnswer", "MovedRecords")
    }
    _say_what_own_kinds_look_at(own["OwnKind"])
    moved = {}
    _fill_inspections(own["Inspection"], models, moved)
    _put_findings(own["Finding"], own["ItemAnswer"], models["OutOfService"], moved)
    _post(own["MovedRecords"], models["Mounting"], moved)
    # PostgreSQL alters no table whose rows have checks to come.
    schema_editor.connection.check_constraints()


def _say_what_own_kinds_look_at(OwnKind):
    for kind in OwnKind.objects.all():
        column = "looks_at_housing" if KIND_OF_HOUSING.search(kind.name) else "looks_at_hammer"
        OwnKind.objects.filter(pk=kind.pk).update(**{column: True})


def _at(spans, key, moment):
    """Return what an owner was put on at a moment: the last of those that hold then."""
    held = [
        (begun, other)
        for begun, ended, other in spans.get(key, ())
        if begun <= moment and (ended is None or ended > moment)
    ]
    return max(held, key=lambda each: each[0])[1] if held else None


def _spans(model, owner, begun, other):
    spans = {}
    for key, *span in model.objects.values_list(owner, begun, "removed_at", other):
        spans.setdefault(key, []).append(span)
    return spans


def _fill_inspections(Inspection, models, moved):
    hammers = _spans(models["Mounting"], "housing_id", "mounted_at", "hammer_id")
    clamps = _spans(models["ClampFitting"], "hammer_id", "fitted_at", "clamp_id")
    packs = _spans(models["PowerPackConnection"], "hammer_id", "fitted_at", "power_pack_id")
    rows = Inspection.objects.order_by("pk").values_list(
        "pk", "housing_id", "seen_at", "hour_reading__hammer_id"
    )
    for pk, housing, seen_at, meter in list(rows):
        hammer = _at(hammers, housing, seen_at) or meter
        if hammer is None:
            continue
        columns = {
            "hammer_id": hammer,
            "clamp_id": _at(clamps, hammer, seen_at),
            "power_pack_id": _at(packs, hammer, seen_at),
        }
        Inspection.objects.filter(pk=pk).update(**columns)
        for column, machine in columns.items():
            if machine is not None:
                _moved(moved, column, machine, housing)["inspections"].append(pk)


def _moved(moved, column, machine, unit):
    return moved.setdefault(
        (column, machine, unit), {"inspections": [], "findings": [], "outages": []}
    )


def _put_findings(Finding, ItemAnswer, OutOfService, moved):
    parts = {
        (inspection, key): part.lower()
        for inspection, key, part in ItemAnswer.objects.values_list("inspection", "key", "part")
    }
    findings = list(
        Finding.objects.order_by("pk").select_related("inspection", "housing", "closing")
    )
    place = {}
    for found in findings:
        part = parts.get((found.inspection_id, found.item_key), "") if found.item_key else ""
        place[found.pk] = _machine_of(found, part)
    for outage in OutOfService.objects.order_by("pk"):
        _put_outage(
            Finding,
            OutOfService,
            outage,
            [(found, *place[found.pk]) for found in findings if found.out_of_service_id == outage.pk],
            moved,
        )
    for found in findings:
        column, machine = place[found.pk]
        if column != "housing_id":
            unit = found.housing_id
            Finding.objects.filter(pk=found.pk).update(**{"housing_id": None, column: machine})
            _moved(moved, column, machine, unit)["findings"].append(found.pk)


def _machine_of(found, part):
    """Return the column and the key of the machine that a finding belongs to."""
    seen = found.inspection
    if part in HOUSING_PARTS:
        return "housing_id", found.housing_id
    if part == "clamp" and seen.clamp_id is not None:
        return "clamp_id", seen.clamp_id
    is_listed = part in {"clamp", "bolts", "hoses", "exciter", "guards"}
    numbers = [int(number) for number in POSITION.findall(found.text)]
    names_pad = any(1 <= each <= found.housing.positions_per_side for each in numbers)
    words = f"{part} {found.text}"
    if not is_listed and (names_pad or OF_HOUSING.search(words)):
        return "housing_id", found.housing_id
    if seen.hammer_id is not None:
        return "hammer_id", seen.hammer_id
    return "housing_id", found.housing_id


def _put_outage(Finding, OutOfService, outage, made_by, moved):
    """Put a time out of service to the machine of the finding that began it.

    Where findings of several machines keep it going, each of those machines is out of service.
    """
    if not made_by:
        return
    unit = outage.housing_id
    _, column, machine = made_by[0]
    is_going_on = outage.released_at is None
    if column != "housing_id" and not (is_going_on and _is_out(OutOfService, column, machine)):
        OutOfService.objects.filter(pk=outage.pk).update(**{"housing_id": None, column: machine})
        _moved(moved, column, machine, unit)["outages"].append(outage.pk)
    else:
        column, machine = "housing_id", unit
    if not is_going_on:
        return
    for found, other_column, other in made_by:
        is_closed = hasattr(found, "closing")
        if is_closed or (other_column, other) == (column, machine):
            continue
        held = OutOfService.objects.filter(released_at=None, **{other_column: other}).first()
        if held is None:
            held = OutOfService.objects.create(
                submission_id=uuid.uuid4(),
                since=outage.since,
                reason=found.text[:200],
                recorded_at=outage.recorded_at,
                recorded_by_id=outage.recorded_by_id,
                **{other_column: other},
            )
            if other_column != "housing_id":
                _moved(moved, other_column, other, unit)["outages"].append(held.pk)
        Finding.objects.filter(pk=found.pk).update(out_of_service=held)


def _is_out(OutOfService, column, machine):
    return OutOfService.objects.filter(released_at=None, **{column: machine}).exists()


def _post(MovedRecords, Mounting, moved):
    """Post one record for each machine and unit: which records were put where."""
    today = {
        each.housing_id: each.hammer
        for each in Mounting.objects.filter(removed_at=None).select_related("hammer")
    }
    for (column, machine, unit), records in moved.items():
        posted = MovedRecords(unit_id=unit, **{column: machine}, **records)
        mark = getattr(posted, column.removesuffix("_id")).mark
        why = WHY.format(unit=posted.unit.mark, machine=mark)
        hammer = today.get(unit)
        if column == "hammer_id" and hammer is not None and hammer.pk != machine:
            why += FORMER.format(hammer=hammer.mark, unit=posted.unit.mark)
        posted.why = why[:300]
        posted.save()


class Migration(migrations.Migration):
    """Every past record is put to the machine it belongs to, and what was put where is posted."""

    dependencies = [
        ('inspections', '0007_machines_of_records'),
    ]

    operations = [
        migrations.RunPython(put_to_machines, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name='ownkind',
            constraint=models.CheckConstraint(condition=models.Q(('looks_at_clamp', False), ('looks_at_hammer', False), ('looks_at_housing', False), ('looks_at_power_pack', False), _negated=True), name='own_kind_looks_at_something'),
        ),
        AppendOnly("OwnKind"),
        # What hung on what is worked out anew where a mounting is recorded late.
        AppendOnly("Inspection", but_for=("hammer", "clamp", "power_pack")),
        AppendOnly("Finding", but_for=("hammer", "housing", "clamp", "power_pack")),
    ]
