package store

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// chainFrom is the chain for a slab sealed on a day, unbagged not before another. When
// none fits by the last unbag day only Earliest is filled in: no date is better than
// a false one.
func (t tx) chainFrom(notBefore, seal unit.Day, cold time.Duration) (season.Chain, error) {
	closed, err := closedForWork(t.DB)
	if err != nil {
		return season.Chain{}, err
	}
	c, err := t.s.Rules.Curing().ReadyFrom(notBefore, seal, cold, closed)
	var none *season.NoChain
	if errors.As(err, &none) {
		return season.Chain{Seal: seal, Earliest: none.Earliest, Latest: none.Latest}, nil
	}
	return c, err
}

// expected is when a slab is packed as things stand, or none when it is past that or
// has no date. ReadyOn is what its people were told last; the two part when a load
// leaves it out or its room was too cold, until the owner tells the new date.
func expected(sl *shop.Slab) unit.Day {
	state := sl.State
	if state == shop.OnHold {
		state = sl.HeldFrom
	}
	switch state {
	case shop.InCure, shop.Rinsed, shop.Unproven, shop.InSmoke, shop.Resting:
		if sl.SmokeOn != 0 {
			return sl.SmokeOn + 1
		}
	}
	return 0
}

// readyEntry brings the calendar entry of the slab's party up to what it was told: the
// day its last slab is ready about.
func (t tx) readyEntry(sl *shop.Slab) error {
	b, err := t.partyOf(sl)
	if err != nil || b == nil {
		return err
	}
	return t.partyReady(b)
}

func (t tx) partyReady(b *shop.Booking) error {
	c, err := take[shop.Class](t.DB, "The class", "id = ?", b.ClassID)
	if err != nil {
		return err
	}
	day, err := t.s.keptReady(t.DB, b, c)
	if err != nil {
		return err
	}
	slabs, err := t.partySlabs(b.ID)
	if err != nil {
		return err
	}
	for _, x := range slabs {
		day = max(day, x.ReadyOn)
	}
	return t.setReady(b, day)
}

// keptReady is when a slab kept for somebody who missed the class is ready about: it is
// sealed when they may no longer choose its spice (R43). None: no such slab waits.
func (s *Store) keptReady(db *gorm.DB, b *shop.Booking, c *shop.Class) (unit.Day, error) {
	var kept int64
	err := db.Model(&shop.Slab{}).Where("seat_id IN (SELECT id FROM seats WHERE booking_id = ? AND state = ?) AND state IN ?", b.ID, shop.Missed, unsealed).Count(&kept).Error
	if err != nil || kept == 0 {
		return 0, err
	}
	return s.readyAbout(db, s.MissedUntil(c.Day).Day(s.Loc))
}

// DateDraft is a new ready-about date that waits for the owner to tell it.
type DateDraft struct {
	Booking  shop.BookingID
	Ref      string
	Name     string
	Class    string
	Tags     []string
	Old, New unit.Day
	Reason   string
	Note     string   // of the booking
	NeedsBy  unit.Day // the day the note names, if it names one
}

// CannotBeMet says whether the party wrote that it needs its bacon before the new date.
func (d DateDraft) CannotBeMet() bool { return d.NeedsBy != 0 && d.New > d.NeedsBy }

var byDay = regexp.MustCompile(`(?i)\b(?:by|before|until|on)\s+(?:[a-z]+\s+)?(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?\s+(\d{1,2})\b`)

// needsBy finds the day a note names: "needs it by Oct 25" is the next Oct 25 counted from
// a day half a year before the date told.
func needsBy(note string, told unit.Day) unit.Day {
	m := byDay.FindStringSubmatch(note)
	if m == nil {
		return 0
	}
	from := told - 182
	for year := range 2 {
		t, err := time.Parse("Jan 2 2006", fmt.Sprintf("%s %s %d", strings.ToUpper(m[1][:1])+strings.ToLower(m[1][1:]), m[2], from.Year()+year))
		if d := unit.DayIn(t, time.UTC); err == nil && d >= from {
			return d
		}
	}
	return 0
}

// The reasons a date moves, as customers read them.
const (
	reasonCold  = "The cure room was too cold for a while, and cure slows in the cold."
	reasonAgain = "A bag had let in air, so the cure was begun again, which is the safe way."
	reasonFull  = "The smokehouse was full that day, and we keep your slabs together."
	reasonShut  = "We are closed on one of the days it takes, so your bacon is smoked on our next smoke day."
)

// DateDrafts lists the bookings whose bacon will be ready on another day than they were
// told, by class and number. Nothing is sent until TellDates.
func (s *Store) DateDrafts(ctx context.Context) ([]DateDraft, error) {
	return s.dateDrafts(s.read(ctx))
}

func (s *Store) dateDrafts(db *gorm.DB) ([]DateDraft, error) {
	var rows []struct {
		shop.Slab
		BookingID shop.BookingID
		BNumber   int
		PayerName string
		Note      string
		ClassCode string
	}
	err := db.Raw(`SELECT slabs.*, bookings.id AS booking_id, bookings.number AS b_number, bookings.payer_name, bookings.note, classes.code AS class_code
		FROM slabs JOIN seats ON seats.id = slabs.seat_id JOIN bookings ON bookings.id = seats.booking_id JOIN classes ON classes.id = slabs.class_id
		WHERE slabs.ready_on IS NOT NULL AND slabs.state IN ? ORDER BY classes.day, classes.code, bookings.number, slabs.number`,
		[]shop.SlabState{shop.InCure, shop.Rinsed, shop.Unproven, shop.InSmoke, shop.Resting, shop.OnHold}).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	closed, err := closedForWork(db)
	if err != nil {
		return nil, err
	}
	var out []DateDraft
	for i := range rows {
		r := &rows[i]
		want := expected(&r.Slab)
		if want == 0 {
			continue
		}
		if len(out) == 0 || out[len(out)-1].Booking != r.BookingID {
			out = append(out, DateDraft{Booking: r.BookingID, Ref: shop.Ref(r.BNumber), Name: r.PayerName, Class: r.ClassCode, Note: r.Note, Reason: reasonFull})
		}
		d := &out[len(out)-1]
		d.Tags = append(d.Tags, r.Tag)
		d.Old, d.New = max(d.Old, r.ReadyOn), max(d.New, want)
		if r.UnbagFrom > r.SealedOn+unit.Day(s.Rules.CureDays) {
			d.Reason = reasonCold
		} else if r.RestartedAt != 0 && d.Reason == reasonFull {
			d.Reason = reasonAgain
		} else if closed.Has(r.ReadyOn-2) || closed.Has(r.ReadyOn-1) || closed.Has(r.ReadyOn) {
			d.Reason = reasonShut
		}
	}
	kept := out[:0]
	for _, d := range out {
		if d.Old != d.New {
			d.NeedsBy = needsBy(d.Note, d.Old)
			kept = append(kept, d)
		}
	}
	return kept, nil
}

// TellDates tells the drafts of the named bookings (none: all) and makes the new date
// the one that was told. A draft told before is not there any more, so a second press
// tells nothing. It returns how many were told.
func (s *Store) TellDates(ctx context.Context, by shop.Actor, ids ...shop.BookingID) (int, error) {
	if !by.May(shop.Owner) {
		return 0, shop.ErrNotAllowed
	}
	n := 0
	err := s.tx(ctx, func(t tx) error {
		n = 0
		drafts, err := s.dateDrafts(t.DB)
		if err != nil {
			return err
		}
		for _, d := range drafts {
			if len(ids) > 0 && !containsID(ids, d.Booking) {
				continue
			}
			told, err := t.tellDate(by, d)
			if err != nil {
				return err
			}
			if told {
				n++
			}
		}
		return nil
	})
	return n, err
}

func containsID(ids []shop.BookingID, id shop.BookingID) bool {
	for _, x := range ids {
		if x == id {
			return true
		}
	}
	return false
}

func (t tx) tellDate(by shop.Actor, d DateDraft) (bool, error) {
	if err := t.lock("bookings", int64(d.Booking)); err != nil {
		return false, err
	}
	b, err := take[shop.Booking](t.DB, "The booking", "id = ?", d.Booking)
	if err != nil {
		return false, err
	}
	slabs, err := t.partySlabs(d.Booking)
	if err != nil {
		return false, err
	}
	changed := false
	for i := range slabs {
		sl := &slabs[i]
		want := expected(sl)
		if want == 0 || want == sl.ReadyOn {
			continue
		}
		res := t.Model(&shop.Slab{}).Where("id = ? AND ready_on = ?", sl.ID, sl.ReadyOn).Update("ready_on", want)
		if res.Error != nil {
			return false, res.Error
		}
		changed = changed || res.RowsAffected == 1
	}
	if !changed {
		return false, nil
	}
	if err := t.setReady(b, d.New); err != nil {
		return false, err
	}
	if err := t.note(by, "booking", int64(b.ID), "date moved", d.Old.String(), d.New.String(), d.Reason); err != nil {
		return false, err
	}
	f := shop.Facts{Ref: b.Ref(), ClassCode: d.Class, OldReadyOn: d.Old, ReadyOn: d.New, Reason: d.Reason, Tags: d.Tags}
	return true, t.tell(t.toCollector(b, shop.NoticeDateMoved, fmt.Sprintf("date-moved/%d/%s/%d", b.ID, d.New, t.now)), f)
}

// toCollector addresses a notice about bacon to whoever fetches it.
func (t tx) toCollector(b *shop.Booking, kind, key string) shop.Notice {
	n := shop.Notice{Key: key, Kind: kind, ToName: b.PayerName, ToAddr: b.PayerEmail, Subject: "booking", SubjectID: int64(b.ID)}
	if b.Collector != "" {
		n.ToName = b.Collector
		if b.CollectorMail != "" {
			n.ToAddr = b.CollectorMail
		}
	}
	return n
}
