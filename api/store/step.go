package store

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm/clause"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// Scan is one scan or press at the bench: which slab, and when it was done. A step may
// arrive long after it was done; a cold room has no signal.
type Scan struct {
	Tag    string
	DoneAt unit.Instant // 0: just now
	Once   string       // names this press, so that sending it again counts once
	Reason string       // where a rule asks for one

	reading string // what was read off, for a step that is kept and does not count
	what    string // what is done that leaves the slab where it is, in words; "" for a move
}

// saying keeps what was read off with a step that does not count.
func (sc Scan) saying(reading string) Scan { sc.reading = reading; return sc }

// doing names what a scan does where the slab's state does not tell.
func (sc Scan) doing(what string) Scan { sc.what = what; return sc }

// sameScan is how close two equal scans of one device must lie to count once (R44).
const sameScan = 5 * time.Minute

// slowClock is how far a device's clock may run ahead.
const slowClock = 2 * time.Minute

func (sc Scan) at(now unit.Instant) unit.Instant {
	if sc.DoneAt == 0 {
		return now
	}
	return sc.DoneAt
}

func (sc Scan) check(now unit.Instant) error {
	if sc.DoneAt > now.Add(slowClock) {
		return shop.Bad("done_at", "That step lies ahead of the shop's clock. Set the device's clock right and scan again.")
	}
	return nil
}

// device is what tells one hand from another where no device is known.
func device(by shop.Actor) string {
	if by.Device != "" {
		return by.Device
	}
	return "by " + by.Name
}

func (t tx) stepKey(sl *shop.Slab, m move) string {
	if m.scan.Once != "" {
		return fmt.Sprintf("%s/%s/%s/%s", sl.Tag, m.to, device(m.by), m.scan.Once)
	}
	return fmt.Sprintf("%s/%s/%s/%d/%d", sl.Tag, m.to, device(m.by), m.scan.at(t.now), sl.Revision)
}

// stepSeen says whether the same scan was counted before: the same press sent again,
// or the same step of the same slab on the same device within five minutes.
func (t tx) stepSeen(sl *shop.Slab, m move) (bool, error) {
	var n int64
	q := t.Model(&shop.Step{}).Where("slab_id = ? AND counted = ?", sl.ID, true)
	if m.scan.Once != "" {
		err := q.Where("key = ?", t.stepKey(sl, m)).Count(&n).Error
		if err != nil || n > 0 || m.stays() {
			return n > 0, err
		}
		q = t.Model(&shop.Step{}).Where("slab_id = ? AND counted = ?", sl.ID, true)
	}
	if m.stays() {
		return false, nil // a second weighing is another weighing
	}
	at := m.scan.at(t.now)
	err := q.Where("to_state = ? AND from_state <> to_state AND device = ? AND done_at BETWEEN ? AND ?", m.to, device(m.by), at.Add(-sameScan), at.Add(sameScan)).Count(&n).Error
	// The slab may have come back since (a release is not a scan): only a slab that is
	// where the scan took it has been moved by it.
	return n > 0 && (sl.State == m.to || sl.HeldFrom == m.to), err
}

func (t tx) appendStep(sl *shop.Slab, m move, from, to shop.SlabState, counted bool) error {
	if to == "" {
		to = from
	}
	reason := m.reason
	if reason == "" {
		reason = trim(m.scan.Reason)
	}
	st := shop.Step{SlabID: sl.ID, From: from, To: to, What: m.scan.what, Counted: counted, DoneAt: m.scan.at(t.now), ReceivedAt: t.now,
		Actor: m.by.Name, Device: device(m.by), Key: t.stepKey(sl, m), Reading: m.reading, Reason: reason}
	if !counted {
		// The same refused scan is kept once, be it sent twice at once; a later one is another.
		st.Key += "/not counted"
		return t.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "key"}}, DoNothing: true}).Create(&st).Error
	}
	if err := t.Create(&st).Error; err != nil {
		if isDuplicate(err) {
			return shop.ErrMoved
		}
		return fmt.Errorf("note step of %s: %w", sl.Tag, err)
	}
	return nil
}

// bench runs a use case of the bench. A refusal that leaves a record (a step during a
// hold, a weigh-out that failed) is answered after its record is safe.
func (s *Store) bench(ctx context.Context, fn func(tx) error) error {
	var no error
	err := s.tx(ctx, func(t tx) error {
		no = nil
		err := fn(t)
		if k, ok := asKept(err); ok {
			no = k
			return nil
		}
		return err
	})
	if err != nil {
		return err
	}
	return no
}

// onSlab is a use case on one scanned slab: it finds the slab, locks its party's row
// (so that what is counted over the party stands still) and runs fn. When the slab is
// on hold, fn is not run and the step is kept as not counted.
func (s *Store) onSlab(ctx context.Context, by shop.Actor, sc Scan, to shop.SlabState, fn func(tx, *shop.Slab) error) error {
	return s.bench(ctx, func(t tx) error {
		sl, err := t.slabByTag(sc.Tag)
		if err != nil {
			return err
		}
		b, err := t.partyOf(sl)
		if err != nil {
			return err
		}
		if b != nil {
			if err := t.lock("bookings", int64(b.ID)); err != nil {
				return err
			}
			if sl, err = t.slabByTag(sc.Tag); err != nil {
				return err
			}
		}
		seen, err := t.mayStep(sl, move{by: by, scan: sc, to: to})
		if err != nil || seen {
			return err
		}
		return fn(t, sl)
	})
}
