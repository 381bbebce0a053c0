package store

import (
	"context"
	"fmt"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// Closing is a span in which a plant will not kill, as somebody types it in.
type Closing struct {
	Plant   shop.PlantID // 0: the shop's first
	From    unit.Day
	To      unit.Day // included
	Species []string // none: all
	Reason  string
	Told    unit.Day // when the plant announced it; 0: today
}

// check lists everything wrong with it.
func (c Closing) check(today unit.Day) error {
	var w shop.Wrong
	if c.From == 0 {
		w.Add("from", "Write the first closed day, such as 2026-11-16.")
	}
	if c.To == 0 {
		w.Add("to", "Write the last closed day, such as 2026-11-29.")
	}
	if c.From != 0 && c.To != 0 {
		switch {
		case c.To < c.From:
			w.Add("to", "The last day lies before the first.")
		case c.To > c.From+366:
			w.Add("to", "That is more than a year.")
		}
	}
	if c.Told > today {
		w.Add("told", "That day is ahead.")
	}
	if trim(c.Reason) == "" {
		w.Add("reason", "Say why, in a word or two.")
	}
	return w.Err()
}

// FloorTouch is a class whose kill day falls into the closure.
type FloorTouch struct {
	Class    shop.Class
	People   int    // guests who would have to be asked; 0 when only meat moves
	MeatOnly bool   // its bellies can come from an earlier kill
	Order    string // "Order 7" when its meat is ordered already
	Planned  bool   // its kill was planned; else it would have come from OldKill
	OldKill  unit.Day
	NewKill  unit.Day           // of a class whose meat alone moves; 0: none fits
	OrderBy  unit.Instant       // of the new kill
	Looked   []season.Candidate // kill days looked at, with the reasons
	Instead  []season.Option    // other days for a clinic, nearest first
	Warnings []string           // what only people can settle
}

// FloorImpact says what a closure would touch, before anything is saved.
func (s *Store) FloorImpact(ctx context.Context, c Closing) ([]FloorTouch, error) {
	if err := c.check(s.Today()); err != nil {
		return nil, err
	}
	touched, _, err := s.floorImpact(s.read(ctx), c)
	return touched, err
}

func (s *Store) floorImpact(db *gorm.DB, c Closing) ([]FloorTouch, plantBook, error) {
	book, err := s.openBook(db, c.Plant)
	if err != nil {
		return nil, book, err
	}
	row := shop.PlantClosure{FromDay: c.From, ToDay: c.To, Species: strings.Join(c.Species, ",")}
	days, err := many[shop.KillDay](db, "day", "plant_id = ? AND day BETWEEN ? AND ? AND day > ?", book.Plant.ID, c.From, c.To, s.Today())
	if err != nil {
		return nil, book, err
	}
	dayOf := map[shop.KillDayID]unit.Day{}
	ids := make([]shop.KillDayID, len(days))
	for i, d := range days {
		ids[i], dayOf[d.ID] = d.ID, d.Day
	}
	calls, err := s.meatCalls(db, "(kill_day_id IN ? OR kill_day_id = 0 AND order_id = 0) AND day > ?", append(ids, -1), s.Today())
	if err != nil {
		return nil, book, err
	}
	after := book
	after.Book.Closures = append(append([]season.Closure{}, book.Book.Closures...),
		season.Closure{From: c.From, To: c.To, Species: c.Species, Why: trim(c.Reason)})
	var touched []FloorTouch
	for _, m := range calls {
		kill := dayOf[m.Class.KillDayID]
		if kill == 0 { // nothing planned yet: the day it would have had
			ch, err := book.Rules.Choose(season.Group{Calls: seasonCalls([]meatCall{m})}, s.Today(), book.Book, book.Closed)
			if err != nil {
				return nil, book, err
			}
			kill = ch.Chosen.Kill
		}
		if !row.Stops(kill, m.Kind.Species) {
			continue
		}
		f := FloorTouch{Class: m.Class, MeatOnly: m.Kind.Piece == "belly", OldKill: kill, Planned: m.Class.KillDayID != 0}
		if m.Class.OrderID != 0 {
			o, err := take[shop.Order](db, "The order", "id = ?", m.Class.OrderID)
			if err != nil {
				return nil, book, err
			}
			f.Order = o.Ref()
			f.Warnings = append(f.Warnings, fmt.Sprintf("%s stands: ring the farm and the plant, then call it off or move it", f.Order))
		}
		if err := s.floorWays(db, after, m, &f); err != nil {
			return nil, book, err
		}
		touched = append(touched, f)
	}
	return touched, after, nil
}

// floorWays looks for another kill for the class and, for a clinic, for another day.
func (s *Store) floorWays(db *gorm.DB, book plantBook, m meatCall, f *FloorTouch) error {
	alone := book
	alone.Book.Taken = append([]season.Taken{}, book.Book.Taken...)
	if err := s.planned(db, &alone, m.Class.ID); err != nil {
		return err
	}
	n, err := s.animalsFull(db, m.Kind.Species, []meatCall{m})
	if err != nil {
		return err
	}
	call := season.Call{Code: m.Class.Code, Use: m.Kind.Code, Day: m.Class.Day}
	ch, err := alone.Rules.Choose(season.Group{Calls: []season.Call{call}, Animals: n}, s.Today(), alone.Book, alone.Closed)
	if err != nil {
		return err
	}
	f.Looked = ch.All
	if ch.OK() {
		f.NewKill, f.OrderBy = ch.Chosen.Kill, ch.Chosen.OrderByAt(s.Rules.DecideHour, s.Loc)
	}
	if f.MeatOnly {
		if !ch.OK() {
			f.Warnings = append(f.Warnings, ch.Advice)
		}
		return nil
	}
	f.People = m.Class.SeatsTaken
	// A clinic's half shares an animal with the bacon of its week, so slots are
	// looked at when its kill is planned, not here.
	alone.Book.Taken = nil
	f.Instead, err = alone.Rules.Instead(call, 1, 3, s.Today(), alone.Book, alone.Closed)
	return err
}

// CloseFloor enters a closure (R20). Bacon whose meat is not ordered yet moves to the
// next kill that fits, by itself, since no guest is touched. Clinics are only listed:
// the owner decides what becomes of them. It returns what was touched.
func (s *Store) CloseFloor(ctx context.Context, by shop.Actor, c Closing) ([]FloorTouch, error) {
	if err := c.check(s.Today()); err != nil {
		return nil, err
	}
	var touched []FloorTouch
	err := s.tx(ctx, func(t tx) error {
		var book plantBook
		var err error
		if touched, book, err = s.floorImpact(t.DB, c); err != nil {
			return err
		}
		row := shop.PlantClosure{PlantID: book.Plant.ID, FromDay: c.From, ToDay: c.To,
			Species: strings.Join(c.Species, ","), Reason: trim(c.Reason), AnnouncedAt: t.now}
		if c.Told != 0 {
			row.AnnouncedAt = c.Told.At(0, 0, s.Loc)
		}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		for i := range touched {
			f := &touched[i]
			if f.Order != "" || !f.Planned {
				continue
			}
			if f.MeatOnly {
				// Looked at again: a class moved just before may have taken a slot.
				m, err := s.meatCalls(t.DB, "id = ?", f.Class.ID)
				if err != nil {
					return err
				}
				now, err := s.openBook(t.DB, book.Plant.ID)
				if err != nil {
					return err
				}
				f.Warnings = nil
				if err := s.floorWays(t.DB, now, m[0], f); err != nil {
					return err
				}
			}
			if f.MeatOnly && f.NewKill != 0 {
				if err := t.setKill(by, f.Class, book.Plant.ID, f.Looked[0]); err != nil {
					return err
				}
				continue
			}
			if err := t.unplan(by, f.Class, "the kill floor is closed"); err != nil {
				return err
			}
		}
		return t.note(by, "plant", int64(book.Plant.ID), "closed", c.From.String(), c.To.String(), trim(c.Reason))
	})
	if err != nil {
		return nil, err
	}
	return touched, nil
}

// unplan takes a class's kill day away; it then stands on the list of classes without.
func (t tx) unplan(by shop.Actor, class shop.Class, why string) error {
	res := t.Model(&shop.Class{}).Where("id = ? AND order_id = 0", class.ID).
		Updates(map[string]any{"kill_day_id": 0, "revision": class.Revision + 1})
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	if err := t.cancelEntry(t.s.uid("decide", int64(class.ID))); err != nil {
		return err
	}
	return t.note(by, "class", int64(class.ID), "kill day lost", "", "", why)
}

// meatStays looks, after a class was moved, whether its kill still fits. A plan that does
// not is dropped, so that the class stands on the list of those without; an order is
// never touched: the owner is told.
func (t tx) meatStays(c *shop.Class) error {
	if c.KillDayID == 0 {
		return nil
	}
	calls, err := t.s.meatCalls(t.DB, "id = ?", c.ID)
	if err != nil || len(calls) == 0 {
		return err
	}
	kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", c.KillDayID)
	if err != nil {
		return err
	}
	book, err := t.s.openBook(t.DB, kd.PlantID)
	if err != nil {
		return err
	}
	book.Book.Taken = nil
	fit, err := candidate(book, season.Group{Calls: seasonCalls(calls)}, kd.Day, 0)
	if err != nil || fit.Fits {
		return err
	}
	why := fmt.Sprintf("the kill of %s does not fit any more: %s", kd.Day.Show(), strings.Join(fit.Reasons, "; "))
	if c.OrderID == 0 {
		return t.unplan(shop.Itself(), *c, why)
	}
	o, err := take[shop.Order](t.DB, "The order", "id = ?", c.OrderID)
	if err != nil {
		return err
	}
	return t.tellShop(shop.Notice{Key: fmt.Sprintf("order-unfit/%d/%d/%s", o.ID, c.ID, c.Day), Kind: shop.NoticeOwnerTask, Subject: "order", SubjectID: int64(o.ID)},
		shop.Facts{Ref: o.Ref(), Class: c.Title, ClassCode: c.Code, Lines: []string{fmt.Sprintf("%s was moved to %s: %s. Look at %s.", c.Code, c.Day.Show(), why, o.Ref())}})
}
