package store_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"gorm.io/gorm"
	"pgregory.net/rapid"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

// A scope ends what was opened for one run of a property, not for the whole test.
type scope struct {
	testing.TB
	undo []func()
}

func (s *scope) Cleanup(f func()) { s.undo = append(s.undo, f) }

func (s *scope) TempDir() string {
	dir, err := os.MkdirTemp("", "thread")
	if err != nil {
		s.Fatal(err)
	}
	s.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

func (s *scope) close() {
	for _, f := range slices.Backward(s.undo) {
		f()
	}
}

// A thread is the shop under random commands, and the little that must be remembered of
// it to say what it may never do.
type thread struct {
	*storetest.House
	g        *rapid.T
	by       shop.Actor
	bookings []shop.BookingID
	orders   []shop.OrderID
	released map[shop.SlabID]bool // slabs that a command just let off their hold
	given    map[shop.BookingID]bool
	old      world
	sent     map[string]int
	done     map[string]int // commands that were not refused, by name
	inTill   unit.Money     // money handed over, less what was handed back at once
}

// A world is what a run is held against after the next command.
type world struct {
	slabs    map[shop.SlabID]shop.Slab
	steps    []shop.Step
	history  int64
	bookings map[shop.BookingID]shop.Booking
	seats    map[shop.SeatID]shop.Seat
	orders   map[shop.OrderID]shop.Order
	classes  map[shop.ClassID]shop.Class
}

// TestWholeThread drives random commands from the first seat to the last packet and
// holds what must always be true against the records after each.
func TestWholeThread(t *testing.T) {
	for _, d := range []struct {
		name string
		url  func(testing.TB) string
	}{
		{"sqlite", func(t testing.TB) string { return "sqlite:" + filepath.Join(t.TempDir(), "shop.db") }},
		{"postgres", func(t testing.TB) string { return storetest.PostgresURL(t) }},
	} {
		t.Run(d.name, func(t *testing.T) {
			if d.name == "postgres" {
				storetest.PostgresURL(t) // says so at once where there is no server
			}
			steadytest.Steps(t, "8", "50")
			total := map[string]int{}
			rapid.Check(t, func(g *rapid.T) {
				sc := &scope{TB: t}
				defer sc.close()
				m := &thread{House: storetest.Open(sc, d.url(sc)), g: g, by: storetest.Odile, sent: map[string]int{}, done: total}
				m.start()
				g.Repeat(m.commands())
			})
			var quiet []string
			for _, name := range slices.Sorted(maps.Keys((&thread{}).commands())) {
				if name != "" && total[name] == 0 {
					quiet = append(quiet, name)
				}
			}
			t.Logf("done: %v; always refused in this run: %v", total, quiet)
		})
	}
}

// start opens the season with two bacon classes, and in most runs brings it to the
// cutting table, so that short runs reach the bench.
func (m *thread) start() {
	m.released, m.given = map[shop.SlabID]bool{}, map[shop.BookingID]bool{}
	m.Go("2026-09-14 10:00")
	for code, at := range map[string]string{"B1": "2026-10-10 14:00", "B2": "2026-10-17 14:00"} {
		m.must(m.sketch(code, at))
	}
	m.old = m.look()
	if rapid.IntRange(0, 3).Draw(m.g, "begin at the cutting table") > 0 {
		for range 3 {
			m.book("B1")
			m.payIn(m.bookings[len(m.bookings)-1], 0)
		}
		m.buy("B1", 1)
		m.Go("2026-10-08 15:30")
		m.must(m.RunDue(m.Ctx))
		m.receive(m.orders[0])
		if _, err := m.MakeCutList(m.Ctx, m.by, m.orders[0]); err != nil {
			m.must(err)
		}
		m.Go("2026-10-10 13:00")
		m.must(m.RunDue(m.Ctx))
	}
	m.holds()
}

func (m *thread) sketch(code, at string) error {
	_, err := m.AddClass(m.Ctx, m.by, shop.NewClass{Code: code, Kind: "bacon", StartsAt: m.At(at), Seats: 5, MinSeats: -1, DemoSlabs: 1})
	return errors.Join(err, m.Publish(m.Ctx, m.by, code))
}

func (m *thread) must(err error) {
	if err != nil {
		m.g.Helper()
		m.g.Fatal(err)
	}
}

// did takes the answer to a command: done, or a no that people can read.
func (m *thread) did(err error) bool {
	if err == nil {
		return true
	}
	e, ok := shop.AsError(err)
	if !ok || e.Kind == shop.Internal || e.Text == "" {
		m.g.Fatalf("not a no that people can read: %v", err)
	}
	m.g.Logf("refused: %s", e)
	return false
}

func (m *thread) rows(out any, where string, args ...any) {
	m.must(m.Rows(m.Ctx, func(db *gorm.DB) error { return db.Order("id").Where(where, args...).Find(out).Error }))
}

func byID[K comparable, T any](list []T, id func(T) K) map[K]T {
	out := map[K]T{}
	for _, v := range list {
		out[id(v)] = v
	}
	return out
}

func (m *thread) look() world {
	var w world
	var slabs []shop.Slab
	var bookings []shop.Booking
	var seats []shop.Seat
	var orders []shop.Order
	var classes []shop.Class
	m.must(m.Rows(m.Ctx, func(db *gorm.DB) error {
		return errors.Join(db.Find(&slabs).Error, db.Find(&bookings).Error, db.Find(&seats).Error, db.Find(&orders).Error, db.Find(&classes).Error,
			db.Order("id").Find(&w.steps).Error, db.Model(&shop.History{}).Count(&w.history).Error)
	}))
	w.slabs = byID(slabs, func(s shop.Slab) shop.SlabID { return s.ID })
	w.bookings = byID(bookings, func(b shop.Booking) shop.BookingID { return b.ID })
	w.seats = byID(seats, func(s shop.Seat) shop.SeatID { return s.ID })
	w.orders = byID(orders, func(o shop.Order) shop.OrderID { return o.ID })
	w.classes = byID(classes, func(c shop.Class) shop.ClassID { return c.ID })
	return w
}

// reach says whether one record may have come from one state to another in some moves.
func reach[S ~string](moves shop.Moves[S], from, to S) bool {
	seen, todo := map[S]bool{from: true}, []S{from}
	for len(todo) > 0 {
		s := todo[0]
		todo = todo[1:]
		if s == to {
			return true
		}
		for _, n := range moves.Next(s) {
			if !seen[n] {
				seen[n] = true
				todo = append(todo, n)
			}
		}
	}
	return false
}

// holds is what must be true after every command.
func (m *thread) holds() {
	found, err := m.Check(m.Ctx)
	m.must(err)
	for _, f := range found {
		if len(f.Broken) > 0 {
			m.g.Fatalf("%s: %v", f.Rule, f.Broken)
		}
	}
	now := m.look()
	var over []string
	m.must(m.Rows(m.Ctx, func(db *gorm.DB) error {
		return db.Raw(`SELECT c.code FROM classes c JOIN seats s ON s.class_id = c.id AND s.kind <> 'watch' AND s.state IN ('held', 'offered', 'firm', 'came', 'missed')
			GROUP BY c.id, c.code, c.seats HAVING count(*) > c.seats`).Scan(&over).Error
	}))
	if len(over) > 0 {
		m.g.Fatalf("oversold: %v", over)
	}
	for id, b := range m.old.bookings {
		n, ok := now.bookings[id]
		if !ok {
			m.g.Fatalf("%s is gone", b.Ref())
		}
		if b.State == shop.Firm && n.State != shop.Firm && n.State != shop.Came && n.State != shop.Missed && !m.given[id] {
			m.g.Fatalf("%s was firm and is %q, and nobody gave it up", b.Ref(), n.State)
		}
		if n.State == shop.Firm && n.FirmAt == 0 {
			m.g.Fatalf("%s is firm since never", n.Ref())
		}
	}
	for id, s := range m.old.seats {
		if n, ok := now.seats[id]; !ok || !reach(shop.BookingMoves, s.State, n.State) {
			m.g.Fatalf("seat %d was %q and is %q", id, s.State, n.State)
		}
	}
	for id, o := range m.old.orders {
		if n := now.orders[id]; !reach(shop.OrderMoves, o.State, n.State) {
			m.g.Fatalf("%s was %q and is %q", o.Ref(), o.State, n.State)
		}
	}
	for id, c := range m.old.classes {
		if n := now.classes[id]; !reach(shop.ClassMoves, c.State, n.State) {
			m.g.Fatalf("%s was %q and is %q", c.Code, c.State, n.State)
		}
	}
	m.trail(now)
	var money unit.Money
	m.must(m.Rows(m.Ctx, func(db *gorm.DB) error {
		return db.Raw("SELECT coalesce(sum(cents), 0) FROM payments WHERE method IN ('till', 'cash') AND cents > 0 AND note NOT LIKE 'returned%'").Scan(&money).Error
	}))
	if money < m.inTill {
		m.g.Fatalf("%v was handed over, %v stands in the book", m.inTill, money)
	}
	clear(m.released)
	m.old = now
}

// trail holds every slab's steps: along the table, none missing, none overwritten, none
// past a hold.
func (m *thread) trail(now world) {
	if now.history < m.old.history || len(now.steps) < len(m.old.steps) || !slices.Equal(now.steps[:len(m.old.steps)], m.old.steps) {
		m.g.Fatal("what was written down has changed")
	}
	at, under := map[shop.SlabID]shop.SlabState{}, map[shop.SlabID]shop.SlabState{} // under a hold: where it returns to
	for id, s := range m.old.slabs {
		at[id], under[id] = s.State, s.HeldFrom
	}
	for _, s := range now.steps[len(m.old.steps):] {
		if !s.Counted {
			continue
		}
		from, known := at[s.SlabID]
		if !known {
			from = shop.Wanted
		}
		// R44: done before the hold and heard of after it, a step counts under the hold.
		late := from == shop.OnHold && s.From != shop.OnHold && s.From == under[s.SlabID] && s.DoneAt < m.heldSince(s.SlabID)
		if s.From != from && !late {
			m.g.Fatalf("slab %d: a step from %q, it was %q", s.SlabID, s.From, from)
		}
		if s.From != s.To && !shop.SlabMoves.May(s.From, s.To) { // equal: something done within a state
			m.g.Fatalf("slab %d: a step from %q to %q", s.SlabID, s.From, s.To)
		}
		if s.From == shop.OnHold && s.To != shop.OnHold && (!m.released[s.SlabID] || s.Actor == "" || s.Reason == "") {
			m.g.Fatalf("slab %d left its hold without a named person and a reason: %+v", s.SlabID, s)
		}
		if s.DoneAt == 0 || s.ReceivedAt == 0 || s.Actor == "" {
			m.g.Fatalf("a step without a time or an actor: %+v", s)
		}
		switch {
		case late:
			under[s.SlabID] = s.To
			continue
		case s.To == shop.OnHold && s.From != shop.OnHold:
			under[s.SlabID] = s.From
		}
		at[s.SlabID] = s.To
	}
	for id, s := range now.slabs {
		if was, known := at[id]; known && was != s.State || !known && s.State != shop.Wanted {
			m.g.Fatalf("%s is %q, its steps end at %q", s.Tag, s.State, was)
		}
		if s.State == shop.OnHold && s.HeldFrom != under[id] {
			m.g.Fatalf("%s on hold returns to %q, its steps say %q", s.Tag, s.HeldFrom, under[id])
		}
	}
	for id, s := range m.old.slabs {
		if n, ok := now.slabs[id]; ok && n.Tag != s.Tag || !ok && s.State != shop.Wanted {
			m.g.Fatalf("%s has another tag now, or none: %q", s.Tag, n.Tag)
		}
	}
}

func (m *thread) heldSince(id shop.SlabID) (at unit.Instant) {
	m.must(m.Rows(m.Ctx, func(db *gorm.DB) error {
		return db.Raw("SELECT coalesce(min(h.opened_at), 0) FROM holds h JOIN hold_slabs hs ON hs.hold_id = h.id WHERE hs.slab_id = ? AND h.state = ?", id, shop.HoldOpen).Scan(&at).Error
	}))
	return at
}

// post sends what is due; now and then the mail server says no.
func (m *thread) post() {
	fails := rapid.Bool().Draw(m.g, "the mail server is down")
	_, err := m.Deliver(m.Ctx, func(_ context.Context, n shop.Notice, _ shop.Facts) error {
		if fails {
			return errors.New("no route")
		}
		if m.sent[n.Key]++; m.sent[n.Key] > 1 {
			m.g.Fatalf("%s was sent %d times", n.Key, m.sent[n.Key])
		}
		return nil
	})
	m.must(err)
}

// once names a press, now and then the same for two.
func (m *thread) once(what string) store.Once {
	if rapid.IntRange(0, 9).Draw(m.g, "nameless press") > 0 {
		return store.Once{}
	}
	return store.Once{Key: fmt.Sprint(what, rapid.IntRange(1, 2).Draw(m.g, "press")), Fingerprint: what}
}
