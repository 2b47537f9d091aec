"""Rows of machines and of shelves, as lines of the register."""

from __future__ import annotations

from inspections.sheets.cell_reader import CellReader, RowLeft
from inspections.sheets.doubts import CELL, LEAVE_CELL
from inspections.sheets.grid import Cells
from inspections.sheets.layout import Block


class MachineRows(CellReader):
    """Reads rows of the fleet and of shelves."""

    def _fleet_row(self, block: Block, row: int, cells: Cells) -> None:
        def said(name: str) -> str:
            return self._value(block, row, cells, name)

        self._refuse_left(block, row)
        hammer, housing = said("hammer").partition(":")[2], said("housing").partition(":")[2]
        if not hammer and not housing:
            raise RowLeft("names no hammer and no housing")
        yard = said("yard") or self.yard
        per_side = said("positions_per_side") or said("positions")
        self._enter_yard(block, row, yard)
        if hammer:
            names: tuple[str, ...] = (
                "make",
                "type_name",
                "serial_number",
                "eccentric_moment_lb_in",
            )
            names += ("frequency_vpm", "exciter_weight_lb")
            figures = {name: said(name) for name in names}
            has_figures = any(figures[name] for name in names[3:])
            line = {"mark": hammer, "yard": yard, **figures}
            if has_figures:
                line["figures_source"] = f"sheet “{self.file[:60]}”"
            if not housing:
                line["note"] = said("note")
            self._line("hammers", block.number, row, line)
        if housing:
            line = {
                "mark": housing,
                "yard": yard,
                "positions_per_side": per_side,
                "design_travel_in": said("design_travel_in"),
                "serial_number": said("housing_serial"),
                "weight_lb": said("weight_lb"),
                "bumper": said("bumper"),
                "note": said("note"),
            }
            if not hammer and not line["serial_number"]:
                line["serial_number"] = said("serial_number")
            if ("housing", housing) not in self.known.new:
                line = {name: text for name, text in line.items() if name != "note"}
                line |= self._fixed_of_known(housing, per_side, line["design_travel_in"])
            elif per_side:
                self.known.positions[housing] = int(float(per_side))
            self._line("housings", block.number, row, line)
        if hammer and housing:
            self._hang(block, row, cells, hammer, housing)
        if hammer and said("listed_lbf"):
            self._list(block, row, cells, hammer)

    def _fixed_of_known(self, housing: str, per_side: str, travel: str) -> dict[str, str]:
        """What a housing on record must be said to be again, where the sheet is silent."""
        from fleet.models import SuppressorHousing

        there = SuppressorHousing.objects.get(mark=housing)
        return {
            "positions_per_side": per_side or str(there.positions_per_side),
            "design_travel_in": travel or repr(there.design_travel_in),
        }

    def _enter_yard(self, block: Block, row: int, yard: str) -> None:
        if yard.lower() not in {each.name.lower() for each in self.known.yards} and (
            ("yard", yard) not in self.known.new
        ):
            self.known.new.add(("yard", yard))
            self._line("yards", block.number, row, {"name": yard})

    def _hang(self, block: Block, row: int, cells: Cells, hammer: str, housing: str) -> None:
        since = self._value(block, row, cells, "mounted")
        hanging = self.known.hangings.get(hammer, [])
        if any(held == housing and ended is None for _, ended, held in hanging):
            return
        if not since:
            since = self._ask(
                "hung since",
                block,
                row,
                column="since when it hangs",
                given="",
                words="No column says since when these housings hang on these hammers: give a "
                "day, or leave it out",
                choices=(CELL,),
                asks=True,
                example="2026-03-14",
            )
        if since == LEAVE_CELL:
            return
        moment = self._moment(block, row, since, "mounted")
        self.known.hangings.setdefault(hammer, []).append((moment, None, housing))
        line = {"housing": housing, "hammer": hammer, "at": moment.isoformat()}
        self._line("mountings", block.number, row, line)

    def _list(self, block: Block, row: int, cells: Cells, hammer: str) -> None:
        said = {
            name: self._value(block, row, cells, name) for name in ("listed_lbf", "source", "dated")
        }
        for name, words, example in (
            ("source", "who claims these listed pulls, such as “data plate”", "data plate"),
            ("dated", "the day that what claims these listed pulls bears", "2019-05-01"),
        ):
            said[name] = said[name] or self._ask(
                f"listing {name}",
                block,
                row,
                column=name,
                given="",
                words=f"No column says {words}: say it, or leave the listed pulls out",
                choices=(CELL,),
                asks=True,
                example=example,
            )
            if said[name] == LEAVE_CELL:
                return
        said["dated"] = self._moment(block, row, said["dated"], "dated").date().isoformat()
        self._line("listings", block.number, row, {"hammer": hammer, **said})

    def _stock_row(self, block: Block, row: int, cells: Cells) -> None:
        def said(name: str) -> str:
            return self._value(block, row, cells, name)

        self._refuse_left(block, row)
        lot = said("lot").partition(":")[2]
        if not lot:
            raise RowLeft("names no lot")
        yard, pads = said("yard") or self.yard, said("pads")
        names = ("supplier", "hardness_shore_a", "rubber_thickness_in", "reorder_point")
        line = {"mark": lot, **{name: said(name) for name in names}}
        if use_by := said("use_by"):
            line["use_by"] = use_by[:10]
        if ("lot", lot) in self.known.new:
            line["note"] = said("note")
        self._enter_yard(block, row, yard)
        self._line("lots", block.number, row, line)
        if not pads:
            return
        day = said("day") or self._ask(
            "counted on",
            block,
            row,
            column="when it was counted",
            given="",
            words="No column says when these shelves were counted: give a day, or leave the "
            "numbers of pads out",
            choices=(CELL,),
            asks=True,
            example="2026-03-14",
        )
        if day != LEAVE_CELL:
            at = self._moment(block, row, day, "day")
            held = {"lot": lot, "yard": yard, "pads": pads, "counted_at": at.isoformat()}
            self._line("shelf_counts", block.number, row, held)
