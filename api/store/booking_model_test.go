package store_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"gorm.io/gorm"
	"pgregory.net/rapid"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// A small model of a class with seats, written apart from the store: who holds, who is
// firm, who waits, in which order offers go out. Random commands are given to both, and
// after each the counts must agree, no class may have more seats taken than it has, and
// every cent that came in must be somewhere.

const modelSeats = 6

type modelParty struct {
	late   bool // has paid after its seats were let go
	id     shop.BookingID
	view   *store.BookingView
	state  shop.BookingState
	places int
	until  unit.Instant // of a hold or an offer
	seats  []shop.SeatID
}

type model struct {
	h     *storetest.House
	t     *rapid.T
	all   []*modelParty // in order of booking
	queue []*modelParty
	n     int

	starts unit.Instant // of the class
}

func (m *model) taken() (n int) {
	for _, p := range m.all {
		if p.state.Holds() {
			n += p.places
		}
	}
	return n
}

// freed offers free seats in order of joining to each party that fits (R9).
func (m *model) freed() {
	now := unit.InstantOf(m.h.Clock.Now())
	for _, p := range slices.Clone(m.queue) {
		if p.state == shop.Waiting && p.places <= modelSeats-m.taken() {
			sent, stands := m.h.Rules.OutOfQuiet(now, m.h.Loc), 24*time.Hour
			if m.starts.Sub(sent) < 48*time.Hour {
				stands = 4 * time.Hour
			}
			p.state, p.until = shop.Offered, sent.Add(stands)
		}
	}
}

func (m *model) gone(p *modelParty, state shop.BookingState) {
	held := p.state.Holds()
	p.state = state
	m.queue = slices.DeleteFunc(m.queue, func(q *modelParty) bool { return q == p })
	if held {
		m.freed()
	}
}

// pass lets time go by: holds run out in the order of their ends, then offers.
func (m *model) pass(d time.Duration) {
	m.h.Clock.Add(d)
	now := unit.InstantOf(m.h.Clock.Now())
	for _, state := range []shop.BookingState{shop.Held, shop.Offered} {
		var due []*modelParty
		for _, p := range m.all {
			if p.state == state && p.until <= now {
				due = append(due, p)
			}
		}
		slices.SortStableFunc(due, func(a, b *modelParty) int { return int(a.until - b.until) })
		for _, p := range due {
			if p.state == state && p.until <= now {
				m.gone(p, shop.LetGo)
			}
		}
	}
	if err := m.h.RunDue(m.h.Ctx); err != nil {
		m.t.Fatal(err)
	}
}

func (m *model) pick(states ...shop.BookingState) *modelParty {
	var may []*modelParty
	for _, p := range m.all {
		if slices.Contains(states, p.state) {
			may = append(may, p)
		}
	}
	if len(may) == 0 {
		return nil
	}
	return rapid.SampledFrom(may).Draw(m.t, "party")
}

func (m *model) key() string { m.n++; return fmt.Sprint("key ", m.n) }

func (m *model) step(vouchers *[]string, credits func() []string) {
	h, by := m.h, shop.Customer("model")
	now := unit.InstantOf(h.Clock.Now())
	switch cmd := rapid.SampledFrom([]string{"book", "book", "wait", "pay", "pay", "leave", "leave some", "take", "unqueue", "pass", "pass", "late", "voucher"}).Draw(m.t, "command"); cmd {
	case "book", "wait":
		n := party("B9", fmt.Sprintf("P%d X.", len(m.all)), rapid.IntRange(1, 3).Draw(m.t, "seats"))
		do := h.Book
		if cmd == "wait" {
			do = h.JoinWaiting
		}
		v, err := do(h.Ctx, by, n, store.Once{})
		room := len(n.People) <= modelSeats-m.taken()
		if room == (cmd == "wait") {
			if e, ok := shop.AsError(err); !ok || e.Kind != shop.Conflict {
				m.t.Fatalf("%s of %d with %d of %d taken: %v", cmd, len(n.People), m.taken(), modelSeats, err)
			}
			return
		}
		if err != nil {
			m.t.Fatalf("%s of %d with %d of %d taken: %v", cmd, len(n.People), m.taken(), modelSeats, err)
		}
		p := &modelParty{id: v.ID, view: v, state: shop.Held, places: len(n.People), until: now.Add(20 * time.Minute)}
		for _, g := range v.People {
			p.seats = append(p.seats, g.SeatID)
		}
		if cmd == "wait" {
			p.state, p.until = shop.Waiting, 0
			m.queue = append(m.queue, p)
		}
		m.all = append(m.all, p)
	case "pay":
		p := m.pick(shop.Held, shop.Offered)
		if p == nil {
			return
		}
		v, err := h.BookingByID(h.Ctx, p.id)
		if err != nil {
			m.t.Fatal(err)
		}
		in := shop.PaymentIn{Key: m.key(), Method: "till"}
		if rapid.Bool().Draw(m.t, "codes") {
			in.Vouchers, in.Credits = *vouchers, credits()
		}
		q, err := h.PayQuote(h.Ctx, by, p.id, in.Vouchers, in.Credits)
		if err != nil {
			in.Vouchers, in.Credits = nil, nil // one of them is spent already
			if q, err = h.PayQuote(h.Ctx, by, p.id, nil, nil); err != nil {
				m.t.Fatal(err)
			}
		}
		in.Cents = q.Money
		if rapid.IntRange(0, 5).Draw(m.t, "short") == 0 && in.Cents > 0 {
			in.Cents--
			if _, err := h.Pay(h.Ctx, by, p.id, in); err == nil {
				m.t.Fatalf("%v paid for %v", in.Cents, v.DueNow)
			}
			return
		}
		paid, err := h.Pay(h.Ctx, by, p.id, in)
		if err != nil || paid.Booking.State != shop.Firm {
			m.t.Fatalf("Pay = %+v, %v", paid, err)
		}
		m.queue = slices.DeleteFunc(m.queue, func(q *modelParty) bool { return q == p })
		p.state = shop.Firm
		if a, err := h.Pay(h.Ctx, by, p.id, in); err != nil || !a.Again {
			m.t.Fatalf("the same notice again: %v", err)
		}
	case "leave", "leave some":
		p := m.pick(shop.Firm, shop.Held)
		if p == nil {
			return
		}
		in := shop.LeaveIn{Choice: rapid.SampledFrom([]string{"money", "credit"}).Draw(m.t, "choice")}
		some := cmd == "leave some" && p.state == shop.Firm && p.places > 1
		if some {
			in.Seats = []shop.SeatLeave{{Seat: p.seats[len(p.seats)-1]}}
		}
		if _, err := h.LetGo(h.Ctx, by, p.id, in, store.Once{Key: m.key()}); err != nil {
			m.t.Fatal(err)
		}
		if some {
			p.places--
			p.seats = p.seats[:len(p.seats)-1]
			m.freed()
			return
		}
		m.gone(p, shop.LetGo)
	case "take":
		p := m.pick(shop.Offered)
		if p == nil {
			return
		}
		if err := h.TakeOffer(h.Ctx, by, p.id); err != nil {
			m.t.Fatal(err)
		}
		p.state, p.until = shop.Held, max(p.until, now.Add(20*time.Minute))
		m.queue = slices.DeleteFunc(m.queue, func(q *modelParty) bool { return q == p })
	case "unqueue":
		p := m.pick(shop.Waiting, shop.Offered)
		if p == nil {
			return
		}
		if err := h.LeaveWaiting(h.Ctx, by, p.id); err != nil {
			m.t.Fatal(err)
		}
		m.gone(p, shop.LetGo)
	case "pass":
		d := rapid.SampledFrom([]time.Duration{5 * time.Minute, 21 * time.Minute, 25 * time.Hour}).Draw(m.t, "time")
		if m.starts.Sub(now) > d+36*time.Hour { // the class itself is another story
			m.pass(d)
		}
	case "late": // money for seats that were let go: all of it back
		p := m.pick(shop.LetGo)
		if p == nil {
			return
		}
		before, err := h.BookingByID(h.Ctx, p.id)
		if err != nil {
			m.t.Fatal(err)
		}
		paid, err := h.Pay(h.Ctx, by, p.id, shop.PaymentIn{Cents: 95_00, Method: "till", Key: m.key()})
		if err != nil || paid.Returned != 95_00 || paid.Booking.Paid != before.Paid || (paid.Waiting == nil) != p.late {
			m.t.Fatalf("paid too late (before: %v): %+v, %v", p.late, paid, err)
		}
		if p.late { // they stand in line already, or did
			return
		}
		p.late = true
		v := paid.Waiting
		q := &modelParty{id: v.ID, view: v, state: shop.Waiting, places: v.Places}
		for _, g := range v.People {
			q.seats = append(q.seats, g.SeatID)
		}
		m.all = append(m.all, q)
		m.queue = slices.Insert(m.queue, 0, q) // the head of the waiting list
		m.freed()
	case "voucher":
		v, err := h.SellVoucher(h.Ctx, by, shop.NewVoucher{Kind: "seat", ClassKind: "bacon", BuyerName: "U", BuyerEmail: "u@post.example.test"},
			shop.PaymentIn{Cents: 95_00, Method: "till", Key: m.key()})
		if err != nil {
			m.t.Fatal(err)
		}
		*vouchers = append(*vouchers, v.Code)
	}
}

// agree holds store and model against each other.
func (m *model) agree(db *gorm.DB) {
	p, err := m.h.ClassPage(m.h.Ctx, "B9")
	if err != nil {
		m.t.Fatal(err)
	}
	if p.Taken != m.taken() || p.Taken > modelSeats {
		m.t.Fatalf("%d seats taken, the model has %d of %d", p.Taken, m.taken(), modelSeats)
	}
	for _, q := range m.all {
		v, err := m.h.BookingByID(m.h.Ctx, q.id)
		if err != nil {
			m.t.Fatal(err)
		}
		if v.State != q.state {
			m.t.Fatalf("%s is %s, in the model %s", v.Ref, v.State, q.state)
		}
		if v.State == shop.Firm && (v.Owes != 0 || v.Places != q.places || v.Total != unit.Money(q.places)*95_00) {
			m.t.Fatalf("%s: owes %v, %d places, %v", v.Ref, v.Owes, v.Places, v.Total)
		}
	}
	// Every cent that came in as money is on a booking, in a credit or in a voucher.
	var cash, booked, credits, vouchers int64
	for _, q := range []struct {
		into *int64
		sql  string
	}{
		{&cash, "SELECT coalesce(sum(cents), 0) FROM payments WHERE method IN ('till', 'cash', 'card', 'transfer')"},
		{&booked, "SELECT coalesce(sum(paid_cents), 0) FROM bookings"},
		{&credits, "SELECT coalesce(sum(left_cents), 0) FROM credits"},
		{&vouchers, "SELECT coalesce(sum(left_cents), 0) FROM vouchers"},
	} {
		if err := db.Raw(q.sql).Scan(q.into).Error; err != nil {
			m.t.Fatal(err)
		}
	}
	if cash != booked+credits+vouchers {
		m.t.Fatalf("%d cents came in, %d stand on bookings, %d in credits, %d in vouchers", cash, booked, credits, vouchers)
	}
	findings, err := m.h.Check(m.h.Ctx)
	if err != nil {
		m.t.Fatal(err)
	}
	for _, f := range findings {
		if len(f.Broken) > 0 {
			m.t.Fatalf("%s: %v", f.Rule, f.Broken)
		}
	}
}

func TestBookingsAgainstAModel(t *testing.T) {
	run := func(t *testing.T, h *storetest.House) {
		db := behind(t, h)
		codes := 0
		rapid.Check(t, func(rt *rapid.T) {
			if codes++; codes > 25 {
				return // each run is long; -rapid.seed tries others
			}
			// A class of its own for each run, on one database: the code is put back each time.
			if err := db.Exec("UPDATE classes SET code = ? WHERE code = 'B9'", fmt.Sprint("X", codes)).Error; err != nil {
				rt.Fatal(err)
			}
			h.Go(rapid.SampledFrom([]string{"2026-08-03 09:00", "2026-09-23 18:00", "2026-10-02 21:30", "2026-10-07 09:00"}).Draw(rt, "begin")) // every tier of R4
			if _, err := h.AddClass(h.Ctx, storetest.Odile, shop.NewClass{Code: "B9", Kind: "bacon", StartsAt: h.At("2026-10-10 14:00"), Seats: modelSeats, MinSeats: -1}); err != nil {
				rt.Fatal(err)
			}
			if err := db.Exec("UPDATE classes SET state = 'open' WHERE code = 'B9'").Error; err != nil {
				rt.Fatal(err) // publishing would ask whether the cooler can hold so many classes
			}
			m := &model{h: h, t: rt, n: codes * 100000, starts: h.At("2026-10-10 14:00")}
			var vouchers []string
			credits := func() []string {
				var ids []shop.CreditID
				if err := db.Raw("SELECT id FROM credits WHERE left_cents > 0 ORDER BY id DESC LIMIT 2").Scan(&ids).Error; err != nil {
					rt.Fatal(err)
				}
				var out []string
				for _, id := range ids {
					out = append(out, h.CreditCode(id))
				}
				return out
			}
			for range rapid.IntRange(10, 40).Draw(rt, "steps") {
				m.step(&vouchers, credits)
				m.agree(db)
			}
			// Empty the class for the next run: nothing of this one may become due in it.
			m.pass(60 * 24 * time.Hour)
		})
	}
	storetest.Each(t, run)
}
