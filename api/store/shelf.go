package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/label"
	"flitchbook/planner/unit"
)

// Pack closes a rested slab in its packet: resting to packed. A finished weight outside
// 78 to 95 % of green stops and stays on record: weigh again, and suspect a swapped tag
// (R36). The second weighing may stand, with the reason why. Bacon may not weigh more than
// the fresh belly it was made of (9 CFR 319.107), whatever the reason.
func (s *Store) Pack(ctx context.Context, by shop.Actor, sc Scan, w unit.Weight) error {
	return s.onSlab(ctx, by, sc.saying(w.LB()), shop.Packed, func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "packing", shop.Resting); err != nil {
			return err
		}
		if _, err := s.labelMayPrint(); err != nil {
			return err
		}
		reading := w.LB()
		if v := cure.CheckFinished(sl.Green, w, s.Rules.FinishMin, s.Rules.FinishMax); v.Answer == cure.Block {
			again, err := t.weighedBefore(sl)
			if err != nil {
				return err
			}
			_, name := label.Name(sl.Green, w)
			if w <= 0 {
				return shop.Bad("weight", "Say what it weighs.")
			}
			if name != nil || !again || trim(sc.Reason) == "" {
				return t.stopWeight(by, sc, sl, w, v, again)
			}
			reading += ", outside " + s.Rules.FinishMin.String() + " to " + s.Rules.FinishMax.String() + " of green, weighed twice"
		}
		if err := t.mayPack(sl); err != nil {
			return err
		}
		day := sc.at(t.now).Day(t.s.Loc)
		_, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.Packed, reading: reading, set: map[string]any{
			"finished": w, "packed_on": day, "use_by": label.UseBy(day, s.Rules.UseByDays, s.life())}})
		return err
	})
}

// stopped begins the reading of a finished weight that was refused.
const stopped = "stopped: "

// weighedBefore says whether a finished weight of this slab was refused before.
func (t tx) weighedBefore(sl *shop.Slab) (bool, error) {
	var n int64
	err := t.Model(&shop.Step{}).Where("slab_id = ? AND counted = ? AND to_state = ? AND from_state = ? AND reading LIKE ?", sl.ID, false, shop.Resting, shop.Resting, stopped+"%").Count(&n).Error
	return n > 0, err
}

// stopWeight keeps a finished weight that stops, and says what to look at: weigh again,
// and which other slabs the weight would fit.
func (t tx) stopWeight(by shop.Actor, sc Scan, sl *shop.Slab, w unit.Weight, v cure.Verdict, again bool) error {
	if sl.State == shop.Resting {
		err := t.appendStep(sl, move{by: by, scan: sc, to: shop.Packed, reading: stopped + w.LB() + " of " + sl.Green.LB() + " green"}, sl.State, sl.State, false)
		if err != nil {
			return err
		}
	}
	fits, err := t.fits(sl, w)
	if err != nil {
		return err
	}
	if _, err := label.Name(sl.Green, w); err != nil {
		return kept{shop.Stop("not_bacon", "%s: %s. Weigh it again, and look whether the tag is another slab's. %s", sl.Tag, err, fits)}
	}
	no := shop.Stop("finished_weight", "%s: %s. %s", sl.Tag, v.Reason(), fits)
	if again {
		no.Text += " Weighed twice and the same? Then write why it may stand."
		no.Fields = map[string]string{"reason": "Write why this weight may stand, or look for the right tag."}
	}
	return kept{no}
}

// fits names the other slabs out of the smoke that a weight would be right for.
func (t tx) fits(sl *shop.Slab, w unit.Weight) (string, error) {
	others, err := many[shop.Slab](t.DB, "tag", "id <> ? AND green > 0 AND (state = ? OR state = ? AND packed_on = ?)", sl.ID, shop.Resting, shop.Packed, t.today)
	if err != nil {
		return "", err
	}
	var tags []string
	for _, o := range others {
		if cure.CheckFinished(o.Green, w, t.s.Rules.FinishMin, t.s.Rules.FinishMax).Answer != cure.Block {
			tags = append(tags, fmt.Sprintf("%s (%s green)", o.Tag, o.Green.LB()))
		}
	}
	switch {
	case len(tags) == 0:
		return "It fits no other slab out of the smoke.", nil
	case len(tags) > 8:
		return fmt.Sprintf("It would fit %s and %d more.", strings.Join(tags[:8], ", "), len(tags)-8), nil
	}
	return "It would fit " + strings.Join(tags, ", ") + ".", nil
}

// Shelve puts a packet on a place of the ready shelf: packed to on the shelf. The last
// packet of a party tells its collector, once, in the same moment (R37).
func (s *Store) Shelve(ctx context.Context, by shop.Actor, sc Scan, place string) error {
	return s.onSlab(ctx, by, sc, shop.OnShelf, func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "shelving", shop.Packed); err != nil {
			return err
		}
		p, err := t.shelfPlace(place, "place", shop.Shelf)
		if err != nil {
			return err
		}
		at := sc.at(t.now)
		moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.OnShelf, reading: "place " + p.Code, set: map[string]any{"shelf_at": at, "ready_on": at.Day(t.s.Loc)}})
		if err != nil || !moved {
			return err
		}
		if err := t.place(sl, p); err != nil {
			return err
		}
		if sl.State != shop.OnShelf {
			return nil // noted under a hold: the release tells
		}
		return t.onTheShelf(by, sl, "")
	})
}

// shelfPlace finds a named place, or the first free one of its kind.
func (t tx) shelfPlace(code, field string, kind shop.PlaceKind) (*shop.Place, error) {
	if trim(code) != "" {
		return t.placeByCode(code, field, kind)
	}
	p, err := t.firstFree(kind)
	if err == nil && p == nil {
		err = shop.Stop("shelf_full", "There is no free %s place left.", kind)
	}
	return p, err
}

// onTheShelf looks whether a slab's party is complete and tells its collector if so.
// why is "" for a scan onto the shelf, or names the release after which it is looked at
// again, so that what a hold called off may be said anew.
func (t tx) onTheShelf(by shop.Actor, sl *shop.Slab, why string) error {
	b, err := t.partyOf(sl)
	if err != nil || b == nil {
		return err
	}
	slabs, err := t.partySlabs(b.ID)
	if err != nil {
		return err
	}
	ready, gone, late := 0, 0, 0
	p := packets{booking: b}
	for i := range slabs {
		x := &slabs[i]
		switch x.State {
		case shop.OnShelf, shop.InFreezer:
			ready++
			if err := p.add(t.DB, x); err != nil {
				return err
			}
		case shop.Collected:
			gone++
		default:
			if x.State != shop.OnHold && expected(x) > t.today+partLate {
				late++
			}
		}
	}
	rest := len(slabs) - ready - gone
	switch {
	case rest == 0:
		return t.tellReady(p, gone, why)
	case rest == late:
		// The others come more than three days later: the first part may go (R37).
		f := p.facts()
		f.Lines = []string{fmt.Sprintf("%d of your %d packets; the rest follows more than three days later.", ready, len(slabs))}
		return t.tell(t.toCollector(b, shop.NoticeReady, fmt.Sprintf("ready/%d/part", b.ID)), f)
	}
	return nil
}

// partLate is how many days apart the parts of a party may be ready and still be waited for.
const partLate = 3

// packets is what of a party lies ready.
type packets struct {
	booking *shop.Booking
	tags    []string
	places  []string
	useBy   unit.Day     // the earliest
	since   unit.Instant // when the last was put there
}

func (p *packets) add(db *gorm.DB, sl *shop.Slab) error {
	pl, err := placeOf(db, sl.ID)
	if err != nil {
		return err
	}
	p.tags = append(p.tags, sl.Tag)
	if pl != nil {
		p.places = append(p.places, pl.Code)
	}
	if p.useBy == 0 || sl.UseBy < p.useBy {
		p.useBy = sl.UseBy
	}
	p.since = max(p.since, sl.ShelfAt)
	return nil
}

func (p *packets) facts() shop.Facts {
	return shop.Facts{Ref: p.booking.Ref(), Tags: p.tags, UseBy: p.useBy}
}

// tellReady tells a party that everything of theirs is on the shelf, sets the reminders,
// and turns the calendar entry from a day into the hours it can be fetched.
func (t tx) tellReady(p packets, gone int, why string) error {
	b := p.booking
	key := fmt.Sprintf("ready/%d", b.ID)
	if gone > 0 {
		key += fmt.Sprintf("/rest-%d", gone)
	}
	f := p.facts()
	var err error
	if f.StartsAt, f.EndsAt, err = t.openFrom(p.since); err != nil {
		return err
	}
	if why != "" {
		// Told before the hold: not said again. Called off by the hold: said now.
		var told int64
		if err := t.Model(&shop.Notice{}).Where("(key = ? OR key LIKE ?) AND state <> ?", key, key+"/hold%", shop.Cancelled).Count(&told).Error; err != nil {
			return err
		}
		if told == 0 {
			key += "/" + why
		}
	}
	if err := t.tell(t.toCollector(b, shop.NoticeReady, key), f); err != nil {
		return err
	}
	if err := t.chase(p, why); err != nil {
		return err
	}
	var e shop.Entry
	err = t.Where("uid = ?", t.s.uid("ready", int64(b.ID))).Take(&e).Error
	if err != nil && !errors.Is(err, gorm.ErrRecordNotFound) {
		return err
	}
	_, err = t.setEntry(shop.Entry{UID: t.s.uid("ready", int64(b.ID)), Kind: "ready", Subject: "booking", SubjectID: int64(b.ID),
		StartsAt: f.StartsAt, EndsAt: f.EndsAt, Title: "Bacon ready to collect", Text: fmt.Sprintf("Booking %s, %d packets. The counter is open from %d to %d.", b.Ref(), len(p.tags), t.s.Rules.CounterOpen, t.s.Rules.CounterClose)})
	return err
}

// openDay is the first day on or after d that the counter is open.
func (t tx) openDay(d unit.Day) (unit.Day, error) { return t.s.openDay(t.DB, d) }

func (s *Store) openDay(db *gorm.DB, d unit.Day) (unit.Day, error) {
	var shut []unit.Day
	if err := db.Model(&shop.ClosedDay{}).Where("day BETWEEN ? AND ? AND counter = ?", d, d+60, true).Pluck("day", &shut).Error; err != nil {
		return 0, err
	}
	for i := range unit.Day(60) {
		if slices.Contains(s.Rules.CounterDays, int((d+i).Weekday())) && !slices.Contains(shut, d+i) {
			return d + i, nil
		}
	}
	return 0, fmt.Errorf("the counter is shut for sixty days from %s", d)
}

// openFrom is the first stretch of opening hours at or after an instant.
func (t tx) openFrom(at unit.Instant) (from, to unit.Instant, err error) {
	d := at.Day(t.s.Loc)
	if at >= d.At(t.s.Rules.CounterClose, 0, t.s.Loc) {
		d++
	}
	if d, err = t.openDay(d); err != nil {
		return 0, 0, err
	}
	return max(at, d.At(t.s.Rules.CounterOpen, 0, t.s.Loc)), d.At(t.s.Rules.CounterClose, 0, t.s.Loc), nil
}

// chase sets the reminders of R38: kinder, then firmer, then the freezer, a last word,
// and the owner asked. Days the counter is shut move to the next open one; two on one
// day become one. What is past already is left out.
func (t tx) chase(p packets, why string) error {
	b, r := p.booking, t.s.Rules
	day0 := p.since.Day(t.s.Loc)
	suffix := ""
	if why != "" {
		suffix = "/" + why
	}
	frozen, err := t.openDay(day0 + unit.Day(r.FreezeDay))
	if err != nil {
		return err
	}
	said := map[unit.Day]bool{}
	for _, n := range r.ChaseDays {
		d, err := t.openDay(day0 + unit.Day(n))
		if err != nil {
			return err
		}
		at := d.At(r.MorningHour, 0, t.s.Loc)
		if said[d] || at <= t.now {
			continue
		}
		said[d] = true
		f := p.facts()
		f.Days, f.Until = int(d-day0), frozen.At(r.CounterClose, 0, t.s.Loc)
		f.StartsAt, f.EndsAt = d.At(r.CounterOpen, 0, t.s.Loc), d.At(r.CounterClose, 0, t.s.Loc)
		nt := t.toCollector(b, shop.NoticeCollect, fmt.Sprintf("collect/%d/%s%s", b.ID, d, suffix))
		nt.DueAt = at
		if err := t.tell(nt, f); err != nil {
			return err
		}
	}
	for _, x := range []struct {
		kind string
		at   unit.Instant
	}{
		{shop.NoticeFreezer, frozen.At(r.CounterClose, 0, t.s.Loc)},
		{shop.NoticeFinal, (day0 + unit.Day(r.FinalDay)).At(r.MorningHour, 0, t.s.Loc)},
	} {
		if x.at <= t.now {
			continue
		}
		f := p.facts()
		f.Days = int(x.at.Day(t.s.Loc) - day0)
		nt := t.toCollector(b, x.kind, fmt.Sprintf("%s/%d/%s%s", x.kind, b.ID, day0, suffix))
		nt.DueAt = x.at
		if err := t.tell(nt, f); err != nil {
			return err
		}
	}
	ask := shop.Notice{Key: fmt.Sprintf("give-up/%d/%s%s", b.ID, day0, suffix), Kind: shop.NoticeOwnerTask, Subject: "shelf", SubjectID: int64(b.ID),
		DueAt: (day0 + unit.Day(r.AskDay)).At(r.MorningHour, 0, t.s.Loc)}
	f := p.facts()
	f.Days, f.Lines = r.AskDay, []string{fmt.Sprintf("%s (%s) has not fetched %d packets for %d days. Only you may mark them as given up.", b.PayerName, b.Ref(), len(p.tags), r.AskDay)}
	return t.tellShop(ask, f)
}

// stopChasing calls off every message about fetching that has not left yet.
func (t tx) stopChasing(id shop.BookingID) error {
	if err := t.untell("booking", int64(id), shop.NoticeReady, shop.NoticeCollect, shop.NoticeFreezer, shop.NoticeFinal); err != nil {
		return err
	}
	return t.untell("shelf", int64(id))
}
