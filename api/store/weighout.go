package store

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// Weighed is what was read off the scales for one slab, as typed. Salt, sugar and spice
// are in grams; curing salt with one decimal. When the same cure has passed already and
// only the spice is weighed again, the first three stay empty.
type Weighed struct {
	Salt, Sugar, Cure, Spice string
	Scale                    string // the curing salt was weighed on
	Cup                      string // tag on the cup, when it was scanned
}

// WeighOut records what was weighed for a kitted slab. Curing salt more than 10 % off
// its ticket or outside the limits stops and stays on record (R25): scrape it off, weigh
// again. A cup that bears another slab's tag stops with the numbers (R26).
func (s *Store) WeighOut(ctx context.Context, by shop.Actor, sc Scan, in Weighed) error {
	sc = sc.doing("weigh-out").saying(trim(in.Cure) + " g of curing salt")
	return s.onSlab(ctx, by, sc, "", func(t tx, sl *shop.Slab) error {
		at := sc.at(t.now)
		day := at.Day(t.s.Loc)
		switch sl.State {
		case shop.InCure, shop.Rinsed, shop.InSmoke, shop.Resting, shop.Packed, shop.OnShelf:
			return shop.Stop("sealed_cure", "%s has its own weighed cure; nobody adds a bit more. If its bag leaks, say so: within 24 hours it is bagged again with all its liquid or started again, after that it is held.", sl.Tag)
		}
		if err := needState(sl, "weighing out its cure", shop.Kitted); err != nil {
			return err
		}
		if err := t.checkCup(sl, in.Cup); err != nil {
			return err
		}
		jar, ask, err := jarOf(t.DB, sl)
		if err != nil {
			return err
		}
		k, row, err := t.freshTicketOn(sl, day)
		if err != nil {
			return err
		}
		w := shop.WeighOut{TicketID: row.ID, SlabID: sl.ID, At: at, Actor: by.Name}
		m := move{by: by, scan: sc}
		var wrong shop.Wrong
		if trim(in.Spice) != "" || row.Spice > 0 && !ask {
			w.Spice = grams(&wrong, "spice", in.Spice)
		}
		if trim(in.Cure) == "" && trim(in.Salt) == "" && trim(in.Sugar) == "" {
			before, err := t.passedFor(*row)
			if err != nil {
				return err
			}
			if before != nil {
				if err := wrong.Err(); err != nil {
					return err
				}
				w.ScaleID, w.Salt, w.Sugar, w.Cure, w.PPM, w.Passed = before.ScaleID, before.Salt, before.Sugar, before.Cure, before.PPM, true
				w.Reason = "cure as weighed " + before.At.Show(t.s.Loc)
				return t.passWeighOut(sl, m, w, row, jar, ask)
			}
		}
		w.Salt, w.Sugar = grams(&wrong, "salt", in.Salt), grams(&wrong, "sugar", in.Sugar)
		scale, ready, err := t.scaleAt(in.Scale, at)
		if err != nil {
			wrong.AddErr("scale", err)
		} else if err := ready.Ready(day); err != nil {
			wrong.Add("scale", "%s.", sentence(err.Error()))
		}
		readings, err := cure.ParseReadings(in.Cure, len(k.Parts))
		if err != nil {
			wrong.Add("cure", "%s.", sentence(err.Error()))
		}
		if err := wrong.Err(); err != nil {
			return err
		}
		w.ScaleID = scale.ID
		for _, r := range readings {
			w.Cure += r
		}
		v := cure.CheckWeighOut(k, in.Cure, ready, day)
		w.PPM, w.Passed, w.Reason = v.PPM, v.Answer != cure.Block, v.Reason()
		if w.Passed {
			return t.passWeighOut(sl, m, w, row, jar, ask)
		}
		var again int64
		if err := t.Model(&shop.Step{}).Where("key = ?", t.stepKey(sl, m)+"/not counted").Count(&again).Error; err != nil {
			return err
		}
		if again == 0 {
			if err := t.saveWeighOut(sl, w, row, jar, ask); err != nil {
				return err
			}
			m.reading = fmt.Sprintf("weighed out %s of curing salt: stopped", w.Cure.G(1))
			if err := t.appendStep(sl, m, sl.State, sl.State, false); err != nil {
				return err
			}
		}
		return kept{shop.Stop("weigh_out", "%s: %s.", sl.Tag, v.Reason())}
	})
}

func (t tx) passWeighOut(sl *shop.Slab, m move, w shop.WeighOut, row *shop.CureTicket, jar shop.Jar, ask bool) error {
	m.reading = fmt.Sprintf("weighed out %s of curing salt, %s", w.Cure.G(1), w.PPM.Show())
	if !ask && jar.ID != 0 {
		m.set = map[string]any{"jar_id": jar.ID}
		m.reading += ", spice " + jar.Code
	}
	moved, err := t.moveSlab(sl, m)
	if err != nil || !moved {
		return err
	}
	return t.saveWeighOut(sl, w, row, jar, ask)
}

// saveWeighOut keeps a weigh-out and ties it to every lot that is on the slab with it.
func (t tx) saveWeighOut(sl *shop.Slab, w shop.WeighOut, row *shop.CureTicket, jar shop.Jar, ask bool) error {
	lots, err := t.lotsOn(row, jar, ask, w.At)
	if err != nil {
		return err
	}
	if w.Passed {
		if err := nitriteKnown(sl, lots); err != nil {
			return err
		}
	}
	if err := t.Create(&w).Error; err != nil {
		return err
	}
	for _, l := range lots {
		if err := t.Create(&shop.WeighOutLot{WeighOutID: w.ID, LotID: l.ID}).Error; err != nil {
			return fmt.Errorf("tie lots to the weigh-out of %s: %w", sl.Tag, err)
		}
	}
	return nil
}

// lotsOn are the lots that lie on a slab weighed out by a ticket at a moment: its curing salt,
// the open salt and sugar, and what is in its jar.
func (t tx) lotsOn(row *shop.CureTicket, jar shop.Jar, ask bool, at unit.Instant) ([]shop.IngredientLot, error) {
	lots, err := many[shop.IngredientLot](t.DB, "id", "id = ?", row.CureLotID)
	if err != nil {
		return nil, err
	}
	for _, ingredient := range []string{"salt", "sugar"} {
		l, err := openLot(t.DB, ingredient, at.Day(t.s.Loc))
		if err != nil {
			if e, ok := shop.AsError(err); ok && e.Code == "no_lot" {
				continue // sealing asks for it
			}
			return nil, err
		}
		lots = append(lots, *l)
	}
	if ask || jar.ID == 0 {
		return lots, nil
	}
	inJar, err := t.lotsInJar(jar.ID, at)
	return append(lots, inJar...), err
}

// nitriteKnown refuses lots that would bring nitrate onto bacon, or nitrite that no ticket
// counts: only the curing salt's is reckoned.
func nitriteKnown(sl *shop.Slab, lots []shop.IngredientLot) error {
	for _, l := range lots {
		switch {
		case l.Nitrate > 0:
			return shop.Stop("nitrate", "%s: lot %s of %s holds %s of nitrate, and none may be used in bacon. Take another lot.", sl.Tag, l.Code, l.Ingredient, l.Nitrate)
		case l.Nitrite > 0 && l.Ingredient != "curing salt":
			return shop.Stop("nitrite_elsewhere", "%s: lot %s of %s holds %s of nitrite, which no ticket counts. Only curing salt may hold any.", sl.Tag, l.Code, l.Ingredient, l.Nitrite)
		}
	}
	return nil
}

func (t tx) lotsInJar(id shop.JarID, at unit.Instant) ([]shop.IngredientLot, error) {
	return many[shop.IngredientLot](t.DB, "id", "id IN (SELECT lot_id FROM jar_lots WHERE jar_id = ? AND from_at <= ? AND (until_at = 0 OR until_at > ?))", id, at, at)
}

// passedFor is the weigh-out of the same cure on the same slab that was done last, if it
// passed, or nil.
func (t tx) passedFor(row shop.CureTicket) (*shop.WeighOut, error) {
	// What went into a bag whose liquid was lost is gone: a slab started again is weighed out again.
	tickets, err := many[shop.CureTicket](t.DB, "id", "slab_id = ? AND made_at >= (SELECT restarted_at FROM slabs WHERE id = ?)", row.SlabID, row.SlabID)
	if err != nil {
		return nil, err
	}
	var ids []shop.TicketID
	for _, k := range tickets {
		if sameCure(k, row) {
			ids = append(ids, k.ID)
		}
	}
	var w shop.WeighOut
	err = t.Where("ticket_id IN ?", ids).Order("at DESC, id DESC").Take(&w).Error
	if errors.Is(err, gorm.ErrRecordNotFound) || err == nil && !w.Passed {
		return nil, nil
	}
	return &w, err
}

// carryWeighOut ties what was weighed for an earlier ticket of the same cure, and its
// lots, to the ticket that counts: only the spice has changed, as for a slab whose guest
// left before choosing one.
func (t tx) carryWeighOut(w shop.WeighOut, row *shop.CureTicket) (*shop.WeighOut, error) {
	lots, err := many[shop.WeighOutLot](t.DB, "lot_id", "weigh_out_id = ?", w.ID)
	if err != nil {
		return nil, err
	}
	w.ID, w.TicketID = 0, row.ID
	w.Reason = "cure as weighed " + w.At.Show(t.s.Loc)
	if err := t.Create(&w).Error; err != nil {
		return nil, err
	}
	for _, l := range lots {
		l.WeighOutID = w.ID
		if err := t.Create(&l).Error; err != nil {
			return nil, err
		}
	}
	return &w, nil
}

// CheckCup says whether a cup may be emptied over a slab: nil only for the slab's own.
// Otherwise the error holds what each slab would have got (R26).
func (s *Store) CheckCup(ctx context.Context, slabTag, cupTag string) error {
	return s.tx(ctx, func(t tx) error {
		sl, err := t.slabByTag(slabTag)
		if err != nil {
			return err
		}
		if trim(cupTag) == "" {
			return shop.Bad("cup", "Scan the tag on the cup.")
		}
		return t.checkCup(sl, cupTag)
	})
}

func (t tx) checkCup(sl *shop.Slab, cupTag string) error {
	if trim(cupTag) == "" || strings.EqualFold(trim(cupTag), sl.Tag) {
		return nil
	}
	other, err := t.slabByTag(cupTag)
	if err != nil {
		return err
	}
	for _, x := range []*shop.Slab{sl, other} {
		if x.Green <= 0 {
			return shop.Stop("wrong_cup", "This cup bears %s, the slab is %s. Cups stay with their tags.", other.Tag, sl.Tag)
		}
	}
	at, _, err := reckonTicket(t.DB, sl, sl.Green, t.today)
	if err != nil {
		return err
	}
	cup, _, err := reckonTicket(t.DB, other, other.Green, t.today)
	if err != nil {
		return err
	}
	return shop.Stop("wrong_cup", "%s.", sentence(cure.CheckCup(cup, at).Reason()))
}

// grams reads a whole-gram weight as typed.
func grams(wrong *shop.Wrong, field, text string) unit.Weight {
	if strings.ContainsRune(text, ',') {
		wrong.Add(field, "%q has a comma: write a point before the decimal.", trim(text))
		return 0
	}
	w, err := unit.ParseWeightIn(text, unit.Gram)
	switch {
	case err != nil:
		wrong.AddErr(field, err)
	case w <= 0 || w > unit.Kilogram:
		wrong.Add(field, "%s cannot be right for one slab.", w.G(0))
	}
	return w
}

// sentence begins a reason with a capital letter.
func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
