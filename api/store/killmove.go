package store

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// MovedKill is what it would do if a plant's kill slid to another day.
type MovedKill struct {
	Order   shop.Order
	From    unit.Day
	To      unit.Day
	Deliver unit.Day // the new delivery
	Fits    bool     // every class can have its meat from it
	Touched []MovedClass
	Whole   []string // what stands in the way of the order as a whole
}

// MovedClass is one class of a kill that slides.
type MovedClass struct {
	TouchedClass
	Fits bool
	Hang int
	Why  string
}

// KillMoves says what another kill day would do to an order's classes, before it is
// saved.
func (s *Store) KillMoves(ctx context.Context, number int, to unit.Day) (*MovedKill, error) {
	db := s.read(ctx)
	o, err := take[shop.Order](db, "The order", "number = ?", number)
	if err != nil {
		return nil, err
	}
	return s.killMoves(db, o, to)
}

func (s *Store) killMoves(db *gorm.DB, o *shop.Order, to unit.Day) (*MovedKill, error) {
	switch o.State {
	case shop.Asked, shop.Promised, shop.SlotHeld:
	default:
		return nil, shop.Stop("kill_done", "%s is %s: its kill cannot move.", o.Ref(), o.State)
	}
	kd, err := take[shop.KillDay](db, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return nil, err
	}
	if to == kd.Day {
		return nil, field("to", "That is its kill day.")
	}
	if to <= s.Today() {
		return nil, field("to", "That day has passed.")
	}
	book, err := s.openBook(db, kd.PlantID)
	if err != nil {
		return nil, err
	}
	m := &MovedKill{Order: *o, From: kd.Day, To: to, Fits: true}
	if m.Deliver, m.Whole = book.slides(o, to, s); len(m.Whole) > 0 {
		m.Fits = false
	}
	calls, err := s.meatCalls(db, "order_id = ? AND starts_at > ?", o.ID, s.Now())
	if err != nil {
		return nil, err
	}
	for _, c := range calls {
		touched, err := s.touch(db, c.Class, c.Kind)
		if err != nil {
			return nil, err
		}
		u := c.Kind
		mc := MovedClass{TouchedClass: touched, Hang: int(c.Class.Day - to), Fits: true}
		least, most := u.HangMin, u.HangMax
		if u.Piece == "belly" {
			least, most = max(least, 1), s.Rules.BellyKeeps
		}
		switch {
		case m.Deliver == 0 || m.Deliver > c.Class.Day:
			mc.Fits, mc.Why = false, "its meat would not be delivered by the class"
		case mc.Hang < least:
			mc.Fits, mc.Why = false, fmt.Sprintf("%s before the class, at least %d", countWord(mc.Hang, "day", "days"), least)
		case mc.Hang > most:
			mc.Fits, mc.Why = false, fmt.Sprintf("%s before the class, at most %d", countWord(mc.Hang, "day", "days"), most)
		default:
			mc.Why = fmt.Sprintf("%s before the class", countWord(mc.Hang, "day", "days"))
		}
		m.Fits = m.Fits && mc.Fits
		m.Touched = append(m.Touched, mc)
	}
	return m, nil
}

// slides says when an order would be delivered from another kill day, and what stands in
// the way: a closed floor, too few places. The plant may kill on a day it usually does
// not: it has said so.
func (b plantBook) slides(o *shop.Order, to unit.Day, s *Store) (deliver unit.Day, no []string) {
	for _, c := range b.Book.Closures {
		if c.From <= to && to <= c.To && (len(c.Species) == 0 || slices.Contains(c.Species, o.Species)) {
			no = append(no, fmt.Sprintf("the kill floor is closed %s to %s: %s", c.From.Show(), c.To.Show(), c.Why))
		}
	}
	taken := 0
	for _, k := range b.Book.Taken {
		if k.Day == to && k.Species == o.Species {
			taken += k.Animals
		}
	}
	if left := s.Rules.SlotCapacity(o.Species) - taken; left < o.Slots {
		no = append(no, fmt.Sprintf("%d places are left on %s, %d wanted", max(left, 0), to.Show(), o.Slots))
	}
	for d := to + 1; d <= to+14; d++ {
		if d.Weekday() == time.Weekday(b.Plant.DeliveryWeekday) && !b.Closed.Has(d) {
			return d, no
		}
	}
	return 0, append(no, "no delivery day follows it")
}

// MoveKill writes down that the plant has moved an order's kill. Places move with it, the
// dates in the calendars keep their entries, the farm is written to once. Classes that it
// does not suit any more stand on the list of troubles; nobody else is written to.
func (s *Store) MoveKill(ctx context.Context, by shop.Actor, number int, to unit.Day, why string) (*MovedKill, error) {
	if !by.May(shop.Owner) {
		return nil, shop.ErrNotAllowed
	}
	var m *MovedKill
	err := s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "number = ?", number)
		if err != nil {
			return err
		}
		if m, err = s.killMoves(t.DB, o, to); err != nil {
			return err
		}
		if len(m.Whole) > 0 {
			return shop.Stop("kill_day", "The kill cannot move to %s: %s.", to.Show(), strings.Join(m.Whole, "; "))
		}
		return t.moveKill(by, o, m, trim(why))
	})
	return m, err
}

func (t tx) moveKill(by shop.Actor, o *shop.Order, m *MovedKill, why string) error {
	old, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return err
	}
	held := o.Slots
	if err := t.freeSlots(o, held); err != nil {
		return err
	}
	kd, err := t.killDay(old.PlantID, m.To, m.Deliver)
	if err != nil {
		return err
	}
	res := t.Model(&shop.Order{}).Where("id = ? AND revision = ?", o.ID, o.Revision).
		Updates(map[string]any{"kill_day_id": kd.ID, "deliver_on": m.Deliver, "revision": o.Revision + 1})
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	o.KillDayID, o.DeliverOn, o.Revision = kd.ID, m.Deliver, o.Revision+1
	if held > 0 {
		ok, err := t.takeSlots(o, held)
		if err != nil {
			return err
		}
		if !ok {
			return t.whyNoSlot(o, held)
		}
	}
	err = t.Model(&shop.Class{}).Where("order_id = ?", o.ID).Updates(map[string]any{"kill_day_id": kd.ID}).Error
	if err != nil {
		return err
	}
	if err := t.orderEntries(o, kd); err != nil {
		return err
	}
	farm, f, err := t.slipFacts(o, kd)
	if err != nil {
		return err
	}
	f.Reason = why
	if f.Reason == "" {
		f.Reason = fmt.Sprintf("The plant has moved the kill from %s.", m.From.Show())
	}
	n := shop.Notice{Key: fmt.Sprintf("order-kill/%d/%s", o.ID, m.To), Kind: shop.NoticeOrderChanged, ToName: farm.Name, ToAddr: farm.Email, Subject: "order", SubjectID: int64(o.ID)}
	if err := t.tell(n, f); err != nil {
		return err
	}
	return t.note(by, "order", int64(o.ID), "kill moved", m.From.String(), m.To.String(), why)
}
