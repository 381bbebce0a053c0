package store

import (
	"context"
	"errors"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// Seal closes a slab in its bag and gives it a place: kitted to in cure, day 0. place
// may name one; "" takes the first free rack place. When the rack is full a place in
// the walk-in is the owner's to give (R29).
//
// It is refused without a passing weigh-out for the slab as it is, without the lots of
// everything on it, and without a lot of inspected meat. The demo slab is no exception.
func (s *Store) Seal(ctx context.Context, by shop.Actor, sc Scan, place string) error {
	return s.onSlab(ctx, by, sc, shop.InCure, func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "sealing", shop.Kitted); err != nil {
			return err
		}
		day := sc.at(t.now).Day(t.s.Loc)
		if err := t.mayBeSealed(sl, day); err != nil {
			return err
		}
		p, err := t.curePlace(by, place)
		if err != nil {
			return err
		}
		chain, err := t.chainFrom(0, day, 0)
		if err != nil {
			return err
		}
		jar, _, err := jarOf(t.DB, sl)
		if err != nil {
			return err
		}
		set := map[string]any{"jar_id": jar.ID, "sealed_on": day, "unbag_from": chain.Earliest, "smoke_on": chain.Smoke}
		if sl.ReadyOn == 0 { // started again: what its people were told stands until the owner tells them
			set["ready_on"] = chain.Pack
		}
		moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.InCure, reading: "place " + p.Code, set: set})
		if err != nil || !moved {
			return err
		}
		if err := t.place(sl, p); err != nil {
			return err
		}
		if err := t.bagged(by, sl, day); err != nil {
			return err
		}
		return t.readyEntry(sl)
	})
}

// bagged notes the roll a slab's bag came from. A roll nobody entered does not stop a slab
// whose cure is on it; its trace says so.
func (t tx) bagged(by shop.Actor, sl *shop.Slab, day unit.Day) error {
	roll, err := openLot(t.DB, shop.Bags, day)
	if e, ok := shop.AsError(err); ok && e.Code == "no_lot" {
		return nil
	}
	if err != nil {
		return err
	}
	return t.Create(&shop.BagUse{SlabID: sl.ID, LotID: roll.ID, At: t.now, Actor: by.Name}).Error
}

// mayBeSealed holds a slab against R25 and the records the trail needs.
func (t tx) mayBeSealed(sl *shop.Slab, day unit.Day) error {
	if _, ask, err := jarOf(t.DB, sl); err != nil {
		return err
	} else if ask {
		return shop.Stop("no_spice", "%s has no spice yet: ask the guest and choose it first.", sl.Tag)
	}
	k, row, err := t.freshTicketOn(sl, day)
	if err != nil {
		return err
	}
	w, err := t.passedFor(*row)
	if err != nil {
		return err
	}
	if w == nil {
		return shop.Stop("no_weigh_out", "%s has no passing weigh-out: weigh %s of salt, %s of sugar and %s of curing salt, and enter what the scale shows.",
			sl.Tag, row.Salt.G(0), row.Sugar.G(0), row.Cure.G(1))
	}
	if row.JarID != sl.JarID && row.Spice > 0 {
		return shop.Stop("no_spice_weighed", "The spice of %s is not weighed for this slab yet: %s.", sl.Tag, row.Spice.G(0))
	}
	if w.TicketID != row.ID {
		if w, err = t.carryWeighOut(*w, row); err != nil {
			return err
		}
	}
	if err := t.lotsKnown(sl, w, row); err != nil {
		return err
	}
	// What passed when it was weighed is held against the limit of today once more.
	if v := k.Weighed(w.Cure, k.Step); v.Answer == cure.Block {
		return shop.Stop("over_limit", "%s may not be sealed with the %s of curing salt that were weighed: %s. Scrape it off and weigh again.", sl.Tag, w.Cure.G(1), v.Reason())
	}
	return t.meatInspected(sl)
}

// lotsKnown refuses a slab on which something of unknown origin lies.
func (t tx) lotsKnown(sl *shop.Slab, w *shop.WeighOut, row *shop.CureTicket) error {
	lots, err := many[shop.IngredientLot](t.DB, "id", "id IN (SELECT lot_id FROM weigh_out_lots WHERE weigh_out_id = ?)", w.ID)
	if err != nil {
		return err
	}
	if err := nitriteKnown(sl, lots); err != nil {
		return err
	}
	have := map[string]bool{}
	for _, l := range lots {
		have[l.Ingredient] = true
	}
	need := []string{"curing salt", "salt", "sugar"}
	if row.Spice > 0 {
		jar, err := take[shop.Jar](t.DB, "The spice jar of "+sl.Tag, "id = ?", row.JarID)
		if err != nil {
			return err
		}
		for c := range strings.SplitSeq(jar.Contents, ",") {
			if c = trim(c); c != "" {
				need = append(need, c)
			}
		}
	}
	var missing []string
	for _, n := range need {
		if !have[n] {
			missing = append(missing, n)
		}
	}
	if len(missing) > 0 {
		return shop.Stop("no_lot", "%s: no lot is recorded for %s. Enter the lots, then weigh out again.", sl.Tag, strings.Join(missing, ", "))
	}
	return nil
}

// meatInspected refuses a slab that cannot be followed back to a delivery with an
// inspection mark.
func (t tx) meatInspected(sl *shop.Slab) error {
	var row struct {
		Legend    string
		Condemned bool
	}
	res := t.Raw(`SELECT d.legend, a.condemned FROM bellies b JOIN sides s ON s.id = b.side_id
		JOIN animals a ON a.id = s.animal_id JOIN deliveries d ON d.id = a.delivery_id WHERE b.id = ?`, sl.BellyID).Scan(&row)
	if res.Error != nil {
		return res.Error
	}
	if res.RowsAffected == 0 || trim(row.Legend) == "" || row.Condemned {
		return shop.Stop("not_inspected", "%s cannot be followed back to a delivery of inspected meat. It may not be cured here; custom-killed or hunted meat never may.", sl.Tag)
	}
	return nil
}

// curePlace finds the place a sealed bag goes to.
func (t tx) curePlace(by shop.Actor, code string) (*shop.Place, error) {
	if trim(code) != "" {
		p, err := t.placeByCode(code, "place", shop.Rack, shop.Overflow)
		if err != nil {
			return nil, err
		}
		if p.Kind == shop.Overflow && by.Role != shop.Owner {
			return nil, shop.Stop("overflow", "Places in the walk-in are given out by the owner only.")
		}
		return p, nil
	}
	p, err := t.firstFree(shop.Rack)
	if err != nil || p != nil {
		return p, err
	}
	free, err := t.firstFree(shop.Overflow)
	if err != nil {
		return nil, err
	}
	if free == nil {
		return nil, shop.Stop("rack_full", "The rack is full (%d of %d) and the walk-in too.", t.s.Rules.RackPlaces, t.s.Rules.RackPlaces)
	}
	if by.Role == shop.Owner {
		return nil, shop.Stop("rack_full", "The rack is full (%d of %d). The walk-in has %s free: name it to give it out.", t.s.Rules.RackPlaces, t.s.Rules.RackPlaces, free.Code)
	}
	return nil, shop.Stop("rack_full", "The rack is full (%d of %d). The owner may give out a place in the walk-in.", t.s.Rules.RackPlaces, t.s.Rules.RackPlaces)
}

// MoveInCure carries a sealed slab to another place: from the walk-in back to the rack,
// or to a place the owner gives out.
func (s *Store) MoveInCure(ctx context.Context, by shop.Actor, sc Scan, place string) error {
	sc = sc.doing("carried")
	return s.onSlab(ctx, by, sc, "", func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "moving it in the cooler", shop.InCure); err != nil {
			return err
		}
		p, err := t.curePlace(by, place)
		if err != nil {
			return err
		}
		m := move{by: by, scan: sc, reading: "place " + p.Code}
		if late, err := t.overtaken(sl, m); late || err != nil {
			return err
		}
		moved, err := t.moveSlab(sl, m)
		if err != nil || !moved {
			return err
		}
		return t.place(sl, p)
	})
}

// SwapSlabs is two guests trading slabs: names change, the cure stays with its slab.
// Before sealing the picks go with the people and their spice is weighed again; once
// it is on the meat it stays there (R26).
func (s *Store) SwapSlabs(ctx context.Context, by shop.Actor, a, b Scan) error {
	a, b = a.doing("swap"), b.doing("swap")
	return s.bench(ctx, func(t tx) error {
		x, err := t.slabByTag(a.Tag)
		if err != nil {
			return err
		}
		y, err := t.slabByTag(b.Tag)
		if err != nil {
			return err
		}
		switch {
		case x.ID == y.ID:
			return shop.Bad("tag", "That is the same slab twice.")
		case x.ClassID != y.ClassID:
			return shop.Stop("other_class", "%s and %s are of different classes and cannot be swapped.", x.Tag, y.Tag)
		case x.SeatID == 0 || y.SeatID == 0:
			return shop.Stop("demo_swap", "The shop's own slab is nobody's to swap.")
		}
		for _, sl := range []*shop.Slab{x, y} {
			if err := needState(sl, "swapping", shop.Cut, shop.Kitted, shop.InCure); err != nil {
				return err
			}
		}
		mx := move{by: by, scan: a, reading: "swapped with " + y.Tag, set: map[string]any{"seat_id": 0, "slot": 0}}
		my := move{by: by, scan: b, reading: "swapped with " + x.Tag, set: map[string]any{"seat_id": x.SeatID, "slot": x.Slot}}
		seatY, slotY := y.SeatID, y.Slot
		for _, p := range []struct {
			sl *shop.Slab
			m  *move
		}{{x, &mx}, {y, &my}} {
			if whereIs(p.sl) != shop.InCure {
				p.m.set["jar_id"] = 0 // the pick goes with the person
			}
		}
		// Both are looked at before the first is moved.
		for _, p := range []struct {
			sl *shop.Slab
			m  move
		}{{x, mx}, {y, my}} {
			if seen, err := t.mayStep(p.sl, p.m); err != nil || seen {
				return err
			}
		}
		if moved, err := t.moveSlab(x, mx); err != nil || !moved {
			return err
		}
		if moved, err := t.moveSlab(y, my); err != nil {
			return err
		} else if !moved {
			return shop.ErrMoved
		}
		if err := t.Model(&shop.Slab{}).Where("id = ?", x.ID).Updates(map[string]any{"seat_id": seatY, "slot": slotY}).Error; err != nil {
			return err
		}
		x.SeatID, x.Slot = seatY, slotY
		for _, sl := range []*shop.Slab{x, y} {
			switch whereIs(sl) {
			case shop.Kitted:
				if _, _, err := t.freshTicket(sl); err != nil {
					return err
				}
			case shop.InCure:
				if err := t.readyEntry(sl); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// Rinse takes a slab out of its bag: in cure to rinsed. Not before its earliest day;
// after the latest only with a reason (R27); and while a load is planned that it is not
// part of, only with a reason, since it keeps better in the bag.
func (s *Store) Rinse(ctx context.Context, by shop.Actor, sc Scan, drained unit.Weight) error {
	if drained != 0 {
		sc = sc.saying("drained " + drained.LB())
	}
	return s.onSlab(ctx, by, sc, shop.Rinsed, func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "rinsing", shop.InCure); err != nil {
			return err
		}
		day := sc.at(t.now).Day(t.s.Loc)
		if day < sl.UnbagFrom {
			return shop.Stop("too_early", "%s may leave its bag on %s at the earliest (day %d); today is day %d.", sl.Tag, sl.UnbagFrom.Show(), int(sl.UnbagFrom-sl.SealedOn), int(day-sl.SealedOn))
		}
		if latest := sl.SealedOn + unit.Day(t.s.Rules.LatestDay); day > latest && trim(sc.Reason) == "" {
			return shop.Bad("reason", "%s should have left its bag by %s. Say why it is later.", sl.Tag, latest.Show())
		}
		if err := t.notLeftOut(sl, day, sc); err != nil {
			return err
		}
		reading := "rinsed and hung to dry"
		if drained != 0 {
			reading += ", drained " + drained.LB()
		}
		moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.Rinsed, reading: reading})
		if err != nil || !moved {
			return err
		}
		return t.freePlace(sl.ID)
	})
}

// notLeftOut refuses to unbag a slab that the next planned load leaves out.
func (t tx) notLeftOut(sl *shop.Slab, day unit.Day, sc Scan) error {
	if trim(sc.Reason) != "" {
		return nil
	}
	var l shop.SmokeLoad
	err := t.Where("day = ?", day+1).Take(&l).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	var n int64
	if err := t.Model(&shop.LoadSlab{}).Where("load_id = ? AND slab_id = ?", l.ID, sl.ID).Count(&n).Error; err != nil || n > 0 {
		return err
	}
	return shop.Bad("reason", "%s is not in the load of %s and keeps better in its bag. Say why it is unbagged all the same.", sl.Tag, l.Day.Show())
}

// UnsealedTags names the slabs of a class that are not sealed yet, so that a class is
// not closed out with one of them forgotten.
func (s *Store) UnsealedTags(ctx context.Context, class shop.ClassID) ([]string, error) {
	return unsealedTags(s.read(ctx), class)
}

func unsealedTags(db *gorm.DB, class shop.ClassID) ([]string, error) {
	var tags []string
	err := db.Model(&shop.Slab{}).Where("class_id = ? AND (state IN ? OR state = ? AND held_from IN ?)", class,
		[]shop.SlabState{shop.Wanted, shop.Cut, shop.Kitted}, shop.OnHold, []shop.SlabState{shop.Wanted, shop.Cut, shop.Kitted}).
		Order("number").Pluck("tag", &tags).Error
	return tags, err
}

// dayInCure is how far a slab has come: days since its seal less the days its room was
// too cold (R27).
func (s *Store) dayInCure(sl *shop.Slab, today unit.Day) int {
	if sl.SealedOn == 0 {
		return 0
	}
	lost := int(sl.UnbagFrom-sl.SealedOn) - s.Rules.CureDays
	return max(int(today-sl.SealedOn)-max(lost, 0), 0)
}
