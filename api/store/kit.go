package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// Cutting is a slab as it was cut and weighed.
type Cutting struct {
	Weight   unit.Weight
	SkinOn   bool
	GuestYes bool // the guest agreed to a slab under the promised weight (R23b)

	Thickness unit.Length // at its thickest point; 0 = not measured
}

// CutSlab weighs a slab in: wanted to cut. Under the promised least weight it needs the
// guest's yes, and the payer gets credit for what is short (R23b).
func (s *Store) CutSlab(ctx context.Context, by shop.Actor, sc Scan, c Cutting) error {
	return s.onSlab(ctx, by, sc, shop.Cut, func(t tx, sl *shop.Slab) error {
		if sl.BellyID == 0 {
			return shop.Stop("no_belly", "No belly is set down for %s, so what is cut now could not be followed back to its animal. Bring the cut list up to date, or find a belly for it first.", sl.Tag)
		}
		short, err := t.plausible(sl, c)
		if err != nil {
			return err
		}
		moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.Cut, reading: c.words(), set: map[string]any{"green": c.Weight, "skin_on": c.SkinOn, "thickness": c.Thickness}})
		if err != nil || !moved || short == 0 {
			return err
		}
		return t.creditShort(by, sl, short)
	})
}

func (c Cutting) words() string {
	words := c.Weight.LB() + ", skinless"
	if c.SkinOn {
		words = c.Weight.LB() + ", skin on"
	}
	if c.Thickness > 0 {
		words += ", " + c.Thickness.In() + " thick"
	}
	return words
}

// plausible refuses a weight no slab can have, or one under the promise without a yes;
// short is what is missing to the full weight where credit is due.
func (t tx) plausible(sl *shop.Slab, c Cutting) (short unit.Weight, err error) {
	r := t.s.Rules
	var w shop.Wrong
	if c.Weight < unit.Pound || c.Weight > 20*unit.Pound {
		w.Add("weight", "A slab weighs about %s; %s cannot be right. Weigh again.", r.SlabFixed.LB(), c.Weight.LB())
	}
	if c.Thickness != 0 && (c.Thickness < unit.Inch/4 || c.Thickness > 5*unit.Inch) {
		w.Add("thickness", "A slab is an inch or two thick; %s cannot be right. Measure again, at the thickest point.", c.Thickness.In())
	}
	if err := w.Err(); err != nil {
		return 0, err
	}
	if c.Weight >= r.SlabMin || sl.SeatID == 0 {
		return 0, nil
	}
	short = r.SlabFixed - c.Weight
	if !c.GuestYes {
		w.Add("guest_yes", "%s is under the promised %s. Ask the guest: with their yes they get %s credit.", c.Weight.LB(), r.SlabMin.LB(), r.ShortPound.PerPound(short))
		return 0, w.Err()
	}
	return short, nil
}

func (t tx) creditShort(by shop.Actor, sl *shop.Slab, short unit.Weight) error {
	b, err := t.partyOf(sl)
	if err != nil || b == nil {
		return err
	}
	cents := t.s.Rules.ShortPound.PerPound(short)
	c := shop.Credit{OwnerName: b.PayerName, OwnerEmail: b.PayerEmail, Cents: cents, LeftCents: cents, State: shop.CreditOpen,
		Reason: fmt.Sprintf("slab %s is %s short of %s", sl.Tag, short.LB(), t.s.Rules.SlabFixed.LB()), BookingID: b.ID,
		ExpiresOn: t.today.AddMonths(t.s.Rules.CreditMonths), CreatedAt: t.now}
	if err := t.Create(&c).Error; err != nil {
		return err
	}
	e := shop.LedgerEntry{Key: fmt.Sprintf("credit/%d", c.ID), Text: c.Reason, Actor: by.Name, BookingID: b.ID}
	if err := t.post(e, line(shop.ShortWeight, int64(b.ID), cents), line(shop.OwedCredit, int64(c.ID), -cents)); err != nil {
		return err
	}
	return t.note(by, "booking", int64(b.ID), "credit", "", "", c.Reason+": "+cents.String())
}

// CorrectSlab enters a slab's weight or skin anew before it is sealed, with a reason.
// Its ticket is made again; what was weighed out for the old one no longer counts.
func (s *Store) CorrectSlab(ctx context.Context, by shop.Actor, sc Scan, c Cutting) error {
	sc = sc.doing("correction")
	return s.onSlab(ctx, by, sc, "", func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "correcting the weight", shop.Cut, shop.Kitted); err != nil {
			return err
		}
		if trim(sc.Reason) == "" {
			return shop.Bad("reason", "Say why the weight or skin of %s is entered anew.", sl.Tag)
		}
		if c.Thickness == 0 {
			c.Thickness = sl.Thickness // what was measured stays
		}
		if _, err := t.plausible(sl, Cutting{Weight: c.Weight, SkinOn: c.SkinOn, GuestYes: true, Thickness: c.Thickness}); err != nil {
			return err
		}
		m := move{by: by, scan: sc, reading: c.words(), set: map[string]any{"green": c.Weight, "skin_on": c.SkinOn, "at_seat": 0, "thickness": c.Thickness}}
		if late, err := t.overtaken(sl, m); late || err != nil {
			return err
		}
		moved, err := t.moveSlab(sl, m)
		if err != nil || !moved || whereIs(sl) == shop.Cut {
			return err
		}
		_, _, err = t.freshTicket(sl)
		return err
	})
}

// SeatWeight weighs a slab again at its seat. More than the allowed difference from
// the weight at cutting stops: wrong slab or wrong scale (R23).
func (s *Store) SeatWeight(ctx context.Context, by shop.Actor, sc Scan, w unit.Weight) error {
	sc = sc.doing("seat weight").saying(w.LB())
	return s.onSlab(ctx, by, sc, "", func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "weighing at the seat", shop.Cut, shop.Kitted); err != nil {
			return err
		}
		if v := cure.CheckSeatWeight(sl.Green, w, t.s.Rules.SeatApart); v.Answer == cure.Block {
			return shop.Stop("seat_weight", "%s: %s.", sl.Tag, v.Reason())
		}
		m := move{by: by, scan: sc, reading: w.LB() + " at the seat", set: map[string]any{"at_seat": w}}
		if late, err := t.overtaken(sl, m); late || err != nil {
			return err
		}
		_, err := t.moveSlab(sl, m)
		return err
	})
}

// Kit makes the ticket for a cut slab by its own weight and marks its cups as filled:
// cut to kitted (R24).
func (s *Store) Kit(ctx context.Context, by shop.Actor, sc Scan) error {
	return s.onSlab(ctx, by, sc, shop.Kitted, func(t tx, sl *shop.Slab) error { return t.kit(by, sc, sl) })
}

func (t tx) kit(by shop.Actor, sc Scan, sl *shop.Slab) error {
	moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.Kitted})
	if err != nil || !moved {
		return err
	}
	_, _, err = t.freshTicketOn(sl, sc.at(t.now).Day(t.s.Loc))
	return err
}

// KitClass kits every cut slab of a class at once, as the cups are filled from the
// printed list. It returns how many.
func (s *Store) KitClass(ctx context.Context, by shop.Actor, code string) (int, error) {
	n := 0
	err := s.tx(ctx, func(t tx) error {
		n = 0
		c, err := take[shop.Class](t.DB, "Class "+code, "code = ?", code)
		if err != nil {
			return err
		}
		slabs, err := many[shop.Slab](t.DB, "number", "class_id = ? AND state = ?", c.ID, shop.Cut)
		if err != nil {
			return err
		}
		for i := range slabs {
			if err := t.kit(by, Scan{Tag: slabs[i].Tag}, &slabs[i]); err != nil {
				return err
			}
			n++
		}
		if n == 0 {
			return shop.Stop("nothing_to_kit", "No slab of %s is waiting for its kit.", code)
		}
		return nil
	})
	return n, err
}

// PickAtTable enters the spice a guest chooses at the table. A jar that is away from
// this class cannot be chosen (R13).
func (s *Store) PickAtTable(ctx context.Context, by shop.Actor, sc Scan, jarCode string) error {
	sc = sc.doing("pick")
	return s.onSlab(ctx, by, sc, "", func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "choosing the spice", shop.Wanted, shop.Cut, shop.Kitted); err != nil {
			return err
		}
		if sl.SeatID == 0 {
			return shop.Stop("demo_plain", "%s is the shop's own slab and stays plain.", sl.Tag)
		}
		jar, err := take[shop.Jar](t.DB, "That jar", "code = ?", trim(jarCode))
		if err != nil {
			return shop.Bad("jar", "Choose one of the jars on the table.")
		}
		var away int64
		if err := t.Model(&shop.JarAway{}).Where("class_id = ? AND jar_id = ?", sl.ClassID, jar.ID).Count(&away).Error; err != nil {
			return err
		}
		if away > 0 {
			return shop.Bad("jar", "%s is not on the table that day.", jar.Name)
		}
		m := move{by: by, scan: sc, reading: "spice " + jar.Code, set: map[string]any{"jar_id": 0}}
		if late, err := t.overtaken(sl, m); late || err != nil {
			return err
		}
		res := t.Model(&shop.Pick{}).Where("seat_id = ? AND slot = ?", sl.SeatID, sl.Slot).Updates(map[string]any{"jar_id": jar.ID, "state": shop.PickMade})
		if res.Error != nil {
			return res.Error
		}
		if res.RowsAffected == 0 {
			if err := t.Create(&shop.Pick{SeatID: sl.SeatID, Slot: sl.Slot, JarID: jar.ID, State: shop.PickMade}).Error; err != nil {
				return err
			}
		}
		moved, err := t.moveSlab(sl, m)
		if err != nil || !moved || whereIs(sl) != shop.Kitted {
			return err
		}
		_, _, err = t.freshTicket(sl)
		return err
	})
}
