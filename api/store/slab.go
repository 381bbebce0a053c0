package store

import (
	"errors"
	"fmt"
	"slices"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// slabByTag finds a slab as it is scanned, off its bar code or its QR code: letters in
// either case, spaces around it.
func (t tx) slabByTag(tag string) (*shop.Slab, error) {
	tag = ScannedTag(tag)
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

// overtaken keeps a step that was done before another of its kind which has arrived
// already: it is written down, and the later one stands (R44: order is by time done).
func (t tx) overtaken(sl *shop.Slab, m move) (bool, error) {
	var n int64
	err := t.Model(&shop.Step{}).Where("slab_id = ? AND counted = ? AND what = ? AND done_at > ?", sl.ID, true, m.scan.what, m.scan.at(t.now)).Count(&n).Error
	if err != nil || n == 0 {
		return false, err
	}
	m.set = nil
	m.reading += "; a later one was here before it"
	_, err = t.moveSlab(sl, m)
	return true, err
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
	at := m.scan.at(t.now)
	from, until, err := t.heldAt(sl.ID, at)
	if err != nil {
		return false, err
	}
	if sl.State == shop.OnHold {
		since, err := t.heldSince(sl.ID)
		if err != nil {
			return false, err
		}
		if at < since && from == 0 {
			return false, t.follows(sl, sl.HeldFrom, m)
		}
		from, until = since, 0
	}
	if from != 0 {
		return false, t.heldBack(sl, m, from, until)
	}
	if m.to == "" || m.to == sl.State && m.stays() {
		return false, nil
	}
	return false, t.follows(sl, sl.State, m)
}

// follows says whether a step may come after where the slab is, or was when it was held.
func (t tx) follows(sl *shop.Slab, from shop.SlabState, m move) error {
	if m.stays() {
		return nil
	}
	if from == m.to {
		return shop.ErrMoved.Saying("%s is already %q: a colleague was faster.", sl.Tag, from)
	}
	if from == shop.Unproven && !shop.SlabMoves.May(from, m.to) {
		return shop.Stop("unproven", "%s is unproven: its tag was lost, and nobody knows yet which slab it is. It goes no further before two people have told it apart.", sl.Tag)
	}
	if err := shop.SlabMoves.Check(from, m.to); err != nil {
		return shop.Stop(tooSoon(from, m.to), "%s is %q and cannot become %q. Next it may become: %s.", sl.Tag, from, m.to, nextInWords(from))
	}
	// A device whose clock is slow would seal a slab days before it was cut.
	var before unit.Instant
	err := t.Raw("SELECT coalesce(max(done_at), 0) FROM steps WHERE slab_id = ? AND counted = ? AND from_state <> to_state AND from_state <> ? AND to_state <> ?", sl.ID, true, shop.OnHold, shop.OnHold).Scan(&before).Error
	if err == nil && m.scan.at(t.now).Add(slowClock) < before {
		err = shop.Stop("clock_slow", "%s became %q at %s; this step says it was done before that. Set the device's clock right and scan again.", sl.Tag, from, before.Show(t.s.Loc))
	}
	return err
}

// tooSoon is the code of a refusal: a step may arrive before the one it follows, when
// that was done on another device, and then it is worth trying again.
func tooSoon(from shop.SlabState, steps ...shop.SlabState) string {
	seen, todo := map[shop.SlabState]bool{}, []shop.SlabState{from}
	for len(todo) > 0 {
		s := todo[0]
		todo = todo[1:]
		for _, n := range shop.SlabMoves.Next(s) {
			if slices.Contains(steps, n) {
				return "not_yet"
			}
			if n != shop.OnHold && n != shop.Unproven && !seen[n] {
				seen[n] = true
				todo = append(todo, n)
			}
		}
	}
	return "no_such_move"
}

// heldAt is the hold a slab was under at a moment: from when until when (0: still). No
// hold: zeros.
func (t tx) heldAt(id shop.SlabID, at unit.Instant) (from, until unit.Instant, err error) {
	steps, err := many[shop.Step](t.DB, "done_at, id", "slab_id = ? AND counted = ? AND (from_state = ?) <> (to_state = ?)", id, true, shop.OnHold, shop.OnHold)
	for _, s := range steps {
		switch {
		case s.DoneAt <= at && s.To == shop.OnHold:
			from = s.DoneAt
		case s.DoneAt <= at:
			from = 0
		case from != 0 && s.From == shop.OnHold:
			return from, s.DoneAt, err
		}
	}
	return from, 0, err
}

// heldBack keeps a step that was done while its slab was on hold: it does not count, not
// even when the hold is over by the time it arrives, and whoever releases sees it.
func (t tx) heldBack(sl *shop.Slab, m move, since, until unit.Instant) error {
	from, to := sl.State, m.to
	if !m.stays() {
		from = whereIs(sl)
	}
	if m.reading == "" {
		m.reading = m.scan.reading
	}
	if err := t.appendStep(sl, m, from, to, false); err != nil {
		return err
	}
	if until != 0 {
		return kept{shop.ErrOnHold.Saying("%s was on hold from %s to %s, and this was done meanwhile: it was noted and does not count. If it is true, scan it again now.", sl.Tag, since.In(t.s.Loc).Format("Mon 15:04"), until.In(t.s.Loc).Format("Mon 15:04"))}
	}
	return kept{shop.ErrOnHold.Saying("%s is on hold since %s. It moves when a named person has decided; this step was noted and does not count.", sl.Tag, since.In(t.s.Loc).Format("Mon 15:04"))}
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
	at := whereIs(sl)
	if slices.Contains(in, at) {
		return nil
	}
	code := tooSoon(at, in...)
	if code != "not_yet" {
		code = "wrong_state"
	}
	return shop.Stop(code, "%s is %q: %s is not its next step.", sl.Tag, at, what)
}

// whereIs is the state a slab is in, or returns to when its hold is over.
func whereIs(sl *shop.Slab) shop.SlabState {
	if sl.State == shop.OnHold {
		return sl.HeldFrom
	}
	return sl.State
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
