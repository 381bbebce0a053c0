package store

import (
	"errors"
	"fmt"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// slabByTag finds a slab as it is scanned: letters in either case, spaces around it.
func (t tx) slabByTag(tag string) (*shop.Slab, error) {
	tag = strings.ToUpper(trim(tag))
	if tag == "" {
		return nil, shop.Bad("tag", "Scan or type a tag such as B4-03.")
	}
	return take[shop.Slab](t.DB, "Slab "+tag, "tag = ?", tag)
}

// partyOf is the booking a slab belongs to; nil for the shop's own. It does not lock.
func (t tx) partyOf(sl *shop.Slab) (*shop.Booking, error) {
	if sl.SeatID == 0 {
		return nil, nil
	}
	return take[shop.Booking](t.DB, "The booking of "+sl.Tag, "id = (SELECT booking_id FROM seats WHERE id = ?)", sl.SeatID)
}

// lock takes a row for the rest of the transaction without changing it, so that what
// is counted next stands still (one writer on SQLite, a row lock on PostgreSQL).
func (t tx) lock(table string, id int64) error {
	return t.Exec("UPDATE "+table+" SET id = id WHERE id = ?", id).Error
}

// partySlabs are the slabs of a booking that still count, in tag order: what was
// dumped, replaced or given up is no longer waited for.
func (t tx) partySlabs(id shop.BookingID) ([]shop.Slab, error) {
	return many[shop.Slab](t.DB, "class_id, number",
		"seat_id IN (SELECT id FROM seats WHERE booking_id = ?) AND state NOT IN ?", id,
		[]shop.SlabState{shop.Dumped, shop.Replaced, shop.GivenUp})
}

// A move is one step of a slab to a state, or one that leaves it where it is.
type move struct {
	by      shop.Actor
	scan    Scan
	to      shop.SlabState // "" or the slab's own state: it stays where it is
	reading string
	reason  string // "" takes the scan's
	set     map[string]any
}

// moveSlab is the one way a slab changes: it checks the table of moves and the hold,
// changes the row only while nobody else did, and appends the step. sl is brought up
// to date. It reports false when the very same scan was counted before (R44).
//
// A slab on hold takes nothing: the step is kept as not counted, and the error says
// since when. Only a step done before the hold and received late is counted; the slab
// stays on hold and will return to where that step took it.
func (t tx) moveSlab(sl *shop.Slab, m move) (bool, error) {
	seen, err := t.mayStep(sl, m)
	if err != nil || seen {
		return false, err
	}
	to, from := m.to, sl.State
	if to == "" {
		to = from
	}
	set := map[string]any{"revision": sl.Revision + 1}
	for k, v := range m.set {
		set[k] = v
	}
	if sl.State == shop.OnHold && to != shop.OnHold {
		from = sl.HeldFrom // done before the hold: mayStep has seen to it
		set["held_from"] = to
	} else {
		set["state"] = to
	}
	err = changed(t.Model(&shop.Slab{}).Where("id = ? AND state = ? AND revision = ?", sl.ID, sl.State, sl.Revision).Updates(set), shop.ErrMoved)
	if err != nil {
		return false, err
	}
	if err := t.appendStep(sl, m, from, to, true); err != nil {
		return false, err
	}
	return true, t.Where("id = ?", sl.ID).Take(sl).Error
}

// mayStep says whether a step would count, before anything is written. true means that
// the same scan has counted already.
func (t tx) mayStep(sl *shop.Slab, m move) (seen bool, err error) {
	if err := m.scan.check(t.now); err != nil {
		return false, err
	}
	if seen, err := t.stepSeen(sl, m); seen || err != nil {
		return seen, err
	}
	if sl.State == shop.OnHold {
		since, err := t.heldSince(sl.ID)
		if err != nil {
			return false, err
		}
		stays := m.to == "" || m.to == shop.OnHold
		if !stays && m.scan.at(t.now) < since && shop.SlabMoves.May(sl.HeldFrom, m.to) {
			return false, nil
		}
		if err := t.appendStep(sl, m, sl.HeldFrom, m.to, false); err != nil {
			return false, err
		}
		return false, kept{shop.ErrOnHold.Saying("%s is on hold since %s. It moves when a named person has decided; this step was noted and does not count.", sl.Tag, since.In(t.s.Loc).Format("Mon 15:04"))}
	}
	if m.to == "" || m.to == sl.State && m.stays() {
		return false, nil
	}
	if sl.State == m.to {
		return false, shop.ErrMoved.Saying("%s is already %q: a colleague was faster.", sl.Tag, sl.State)
	}
	if err := shop.SlabMoves.Check(sl.State, m.to); err != nil {
		return false, shop.Stop("no_such_move", "%s is %q and cannot become %q. Next it may become: %s.", sl.Tag, sl.State, m.to, nextInWords(sl.State))
	}
	return false, nil
}

func (m move) stays() bool { return m.to == "" }

// nextInWords names the forward step of a state.
func nextInWords(s shop.SlabState) string {
	for _, n := range shop.SlabMoves.Next(s) {
		if n != shop.OnHold && n != shop.Unproven && n != shop.Dumped {
			return string(n)
		}
	}
	return "nothing"
}

// needState refuses a use case on a slab that is not where the use case works; what a
// hold does to it is moveSlab's affair.
func needState(sl *shop.Slab, what string, in ...shop.SlabState) error {
	for _, s := range in {
		if sl.State == s || sl.State == shop.OnHold {
			return nil
		}
	}
	return shop.Stop("wrong_state", "%s is %q: %s is not its next step.", sl.Tag, sl.State, what)
}

// kept wraps a refusal that leaves a record: it is answered after COMMIT.
type kept struct{ no error }

func (k kept) Error() string { return k.no.Error() }
func (k kept) Unwrap() error { return k.no }

// heldSince is when the first open hold on a slab began.
func (t tx) heldSince(id shop.SlabID) (unit.Instant, error) {
	var at *unit.Instant
	err := t.Raw("SELECT min(h.opened_at) FROM holds h JOIN hold_slabs hs ON hs.hold_id = h.id WHERE hs.slab_id = ? AND h.state = ?", id, shop.HoldOpen).Scan(&at).Error
	if err != nil {
		return 0, err
	}
	if at == nil {
		return 0, fmt.Errorf("slab %d is on hold and no hold covers it", id)
	}
	return *at, nil
}

// asKept finds a refusal that leaves a record.
func asKept(err error) (error, bool) {
	var k kept
	if errors.As(err, &k) {
		return k.no, true
	}
	return nil, false
}
