package store_test

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// Numbers and dates below are the invented shop's own house rules and story; the rule
// numbers are those of its book of rules.

var nadia = shop.Actor{Kind: "staff", ID: 3, Name: "Nadia", Role: shop.Staff}

// class sketches and publishes a class of the demo shop.
func class(t testing.TB, h *storetest.House, code, kind, at string, more ...func(*shop.NewClass)) *shop.Class {
	t.Helper()
	n := shop.NewClass{Code: code, Kind: kind, StartsAt: h.At(at), MinSeats: -1, DemoSlabs: -1}
	for _, m := range more {
		m(&n)
	}
	c, err := h.AddClass(h.Ctx, storetest.Odile, n)
	if err != nil {
		t.Fatalf("AddClass(%s) = %v", code, err)
	}
	if err := h.Publish(h.Ctx, storetest.Odile, code); err != nil {
		t.Fatalf("Publish(%s) = %v", code, err)
	}
	return c
}

func seats(n int) func(*shop.NewClass) { return func(c *shop.NewClass) { c.Seats = n } }

// party asks for so many seats in a class for a payer who is one of the people.
func party(class, name string, n int) shop.NewBooking {
	first := strings.ToLower(strings.Fields(name)[0])
	b := shop.NewBooking{Class: class, PayerName: name, PayerEmail: first + "@post.example.test"}
	for i := range n {
		b.People = append(b.People, shop.NewPerson{Payer: i == 0})
	}
	return b
}

func book(t testing.TB, h *storetest.House, n shop.NewBooking) *store.BookingView {
	t.Helper()
	v, err := h.Book(h.Ctx, shop.Customer(n.PayerName), n, store.Once{})
	if err != nil {
		t.Fatalf("Book(%s, %s) = %v", n.Class, n.PayerName, err)
	}
	// The answer is made from what was just written; it must say what the rows say.
	if again, err := h.BookingByID(h.Ctx, v.ID); err != nil || !reflect.DeepEqual(v, again) {
		t.Fatalf("Book(%s, %s) answers\n%+v, the rows say\n%+v, %v", n.Class, n.PayerName, v, again, err)
	}
	return v
}

func pay(t testing.TB, h *storetest.House, b *store.BookingView, in shop.PaymentIn) *store.Paid {
	t.Helper()
	if in.Key == "" {
		in.Key = fmt.Sprintf("till/%d/%d/%d", b.ID, in.Cents, h.Clock.Now().Unix())
	}
	if in.Method == "" && in.Cents > 0 {
		in.Method = "till"
	}
	p, err := h.Pay(h.Ctx, shop.Customer(b.PayerName), b.ID, in)
	if err != nil {
		t.Fatalf("Pay(%s, %v) = %v", b.Ref, in.Cents, err)
	}
	return p
}

// bought books and pays what is due now.
func bought(t testing.TB, h *storetest.House, n shop.NewBooking) *store.BookingView {
	t.Helper()
	b := book(t, h, n)
	return pay(t, h, b, shop.PaymentIn{Cents: b.DueNow}).Booking
}

func again(t testing.TB, h *storetest.House, b *store.BookingView) *store.BookingView {
	t.Helper()
	v, err := h.BookingByID(h.Ctx, b.ID)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func due(t testing.TB, h *storetest.House) {
	t.Helper()
	if err := h.RunDue(h.Ctx); err != nil {
		t.Fatalf("RunDue = %v", err)
	}
}

// A message is a notice as it was handed to the sender.
type message struct {
	shop.Notice
	Facts shop.Facts
}

// send does what is due and returns what went out to customers and guests.
func send(t testing.TB, h *storetest.House) []message {
	t.Helper()
	due(t, h)
	out := []message{}
	if _, err := h.Deliver(h.Ctx, collect(&out)); err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(out, func(m message) bool { return strings.HasPrefix(m.Kind, "owner-") })
}

func words(m []message) string {
	var s []string
	for _, n := range m {
		s = append(s, n.Kind+" "+n.ToAddr)
	}
	return strings.Join(s, ", ")
}

// TestNerysBooks is outcome M1: Tue Oct 20, 20:10, B5 on Sat Nov 7 has 2 seats left at
// $105 (the price rose at 09:00), ready about Sat Nov 21; she books 2 and pays $210.
func TestNerysBooks(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00")
		h.Go("2026-10-19 12:00")
		early := bought(t, h, party("B5", "Gwilym J.", 3))
		if early.Total != 285_00 {
			t.Errorf("three seats before the rise cost %v, want $285.00", early.Total)
		}
		full := bought(t, h, party("B5", "Tamsin R.", 5))
		if full.Total != 475_00 || full.Paid != 190_00 || full.BalanceDueOn != unit.DayOf(2026, 10, 24) {
			t.Errorf("five seats: total %v, paid %v, rest by %v; want $475.00, $190.00, Sat Oct 24 (R2)", full.Total, full.Paid, full.BalanceDueOn)
		}
		h.Go("2026-10-20 20:10")
		p, err := h.ClassPage(h.Ctx, "B5")
		if err != nil {
			t.Fatal(err)
		}
		if p.Left != 2 || p.Price != 105_00 || p.ReadyAbout.Show() != "Sat Nov 21" {
			t.Fatalf("B5 shows %d left, %v, ready about %s; want 2, $105.00, Sat Nov 21", p.Left, p.Price, p.ReadyAbout.Show())
		}
		send(t, h)
		b := book(t, h, party("B5", "Nerys D.", 2))
		if b.State != shop.Held || b.DueNow != 210_00 || b.HoldUntil != h.At("2026-10-20 20:30") {
			t.Fatalf("held: %s, %v due, until %s", b.State, b.DueNow, b.HoldUntil.Show(h.Loc))
		}
		b = pay(t, h, b, shop.PaymentIn{Cents: 210_00}).Booking
		if b.State != shop.Firm || b.Owes != 0 {
			t.Fatalf("after paying: %s, owes %v", b.State, b.Owes)
		}
		got := send(t, h)
		if words(got) != "booked nerys@post.example.test" {
			t.Fatalf("at 20:10, in the quiet hours, went out: %s; want her confirmation alone", words(got))
		}
		inv := got[0].Facts.Invite
		if inv == nil || inv.StartsAt != h.At("2026-11-07 14:00") || inv.UID != b.CalendarUID || got[0].Facts.ReadyOn != unit.DayOf(2026, 11, 21) {
			t.Errorf("the confirmation carries %+v, ready %v", inv, got[0].Facts.ReadyOn)
		}
		if p, _ = h.ClassPage(h.Ctx, "B5"); p.Left != 0 || p.Held != 0 {
			t.Errorf("B5 then shows %d left, %d held", p.Left, p.Held)
		}
		_, err = h.Book(h.Ctx, shop.Customer("x"), party("B5", "Havel X.", 4), store.Once{})
		if !errors.Is(err, shop.ErrClassFull) {
			t.Errorf("a full class answers %v", err)
		}
		if w, err := h.JoinWaiting(h.Ctx, shop.Customer("x"), party("B5", "Havel X.", 4), store.Once{}); err != nil || w.State != shop.Waiting || w.Ahead != 0 {
			t.Errorf("JoinWaiting = %+v, %v", w, err)
		}
	})
}

// TestSeatsAreNeverSoldTwice is outcome M2: many at once, never more seats than there are.
func TestSeatsAreNeverSoldTwice(t *testing.T) {
	for _, c := range []struct{ buyers, seats, want int }{{60, 12, 12}, {200, 2, 2}} {
		t.Run(fmt.Sprintf("%d for %d", c.buyers, c.seats), func(t *testing.T) {
			storetest.Each(t, func(t *testing.T, h *storetest.House) {
				h.Go("2026-10-20 20:11")
				class(t, h, "B5", "bacon", "2026-11-07 14:00", seats(c.seats))
				var wg sync.WaitGroup
				got := make([]error, c.buyers)
				for i := range c.buyers {
					wg.Go(func() {
						n := party("B5", fmt.Sprintf("Buyer%d", i), 1)
						b, err := h.Book(h.Ctx, shop.Customer(n.PayerName), n, store.Once{Key: fmt.Sprint(i)})
						if err == nil && i%2 == 0 {
							_, err = h.Pay(h.Ctx, shop.Customer(n.PayerName), b.ID, shop.PaymentIn{Cents: b.DueNow, Method: "till", Key: fmt.Sprint("till", i)})
						}
						got[i] = err
					})
				}
				wg.Wait()
				sold := 0
				for i, err := range got {
					switch {
					case err == nil:
						sold++
					case errors.Is(err, shop.ErrClassHeld):
						if !strings.Contains(err.Error(), "being held, until 20:31") {
							t.Errorf("buyer %d reads %q", i, err)
						}
					case errors.Is(err, shop.ErrClassFull):
					default:
						t.Errorf("buyer %d: internal error %v", i, err)
					}
				}
				p, err := h.ClassPage(h.Ctx, "B5")
				if err != nil || sold != c.want || p.Taken != c.want || p.Left != 0 {
					t.Errorf("%d buyers for %d seats: %d sold, %d taken, %d left, %v", c.buyers, c.seats, sold, p.Taken, p.Left, err)
				}
			})
		})
	}
}

func TestSamePressCountsOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B1", "bacon", "2026-10-10 14:00")
		once := store.Once{Key: "press", Fingerprint: "B1 2"}
		n := party("B1", "Imke S.", 2)
		by := shop.Customer("visitor")
		a, err := h.Book(h.Ctx, by, n, once)
		b, err2 := h.Book(h.Ctx, by, n, once)
		if err != nil || err2 != nil || a.ID != b.ID || b.Class.Taken != 2 {
			t.Fatalf("the same press twice: %v %v, taken %d", err, err2, b.Class.Taken)
		}
		in := shop.PaymentIn{Cents: 190_00, Method: "till", Key: "notice 1"}
		p1, p2 := pay(t, h, a, in), pay(t, h, a, in)
		if p1.Again || !p2.Again || p2.Booking.Paid != 190_00 {
			t.Errorf("the same payment notice twice: %v %v, paid %v (R3)", p1.Again, p2.Again, p2.Booking.Paid)
		}
	})
}

// TestHoldEnds is R3: 20 minutes online, ten more once paying has begun, three days at
// the counter; a payment that comes too late goes back whole and the party heads the queue.
func TestHoldEnds(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		h.Go("2026-10-01 12:00")
		class(t, h, "B2", "bacon", "2026-10-17 14:00", seats(2))
		slow := book(t, h, party("B2", "Slow S.", 2))
		if _, err := h.BeginPaying(h.Ctx, slow.ID); err != nil {
			t.Fatal(err)
		}
		h.Go("2026-10-01 12:29")
		due(t, h)
		if v := again(t, h, slow); v.State != shop.Held {
			t.Fatalf("paying had begun, nine minutes over: %s", v.State)
		}
		h.Go("2026-10-01 12:30")
		due(t, h)
		if v := again(t, h, slow); v.State != shop.LetGo || v.LetGoReason != "hold ended" || v.Class.Left != 2 {
			t.Fatalf("then: %s %q, %d left", v.State, v.LetGoReason, v.Class.Left)
		}
		other := bought(t, h, party("B2", "Quick Q.", 2))
		w, err := h.JoinWaiting(h.Ctx, shop.Customer("x"), party("B2", "Early E.", 1), store.Once{})
		if err != nil {
			t.Fatal(err)
		}
		p := pay(t, h, slow, shop.PaymentIn{Cents: 190_00, Key: "late"})
		if p.Returned != 190_00 || p.Booking.Paid != 0 || p.Waiting == nil || p.Waiting.Ahead != 0 {
			t.Fatalf("paid too late: returned %v, paid %v, waiting %+v", p.Returned, p.Booking.Paid, p.Waiting)
		}
		if again(t, h, w).Ahead != 1 {
			t.Errorf("the party that joined before stands at %d, want behind", again(t, h, w).Ahead)
		}
		if _, err := h.LetGo(h.Ctx, shop.Customer("q"), other.ID, shop.LeaveIn{Choice: "money"}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		if v := again(t, h, p.Waiting); v.State != shop.Offered {
			t.Errorf("two seats came free: the head of the queue is %s", v.State)
		}

		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		n := party("B3", "Linus F.", 1)
		n.Counter, n.PayerEmail = true, ""
		c, err := h.Book(h.Ctx, nadia, n, store.Once{})
		if err != nil || c.HoldUntil != h.At("2026-10-04 12:30") {
			t.Errorf("at the counter: %v, until %v", err, c)
		}
	})
}

// A shop without an online till takes the money by transfer or at the counter: whoever
// books on its pages has days for it, and reads so in a mail.
func TestPayLater(t *testing.T) {
	h := storetest.SQLite(t)
	h.Go("2026-10-01 12:00")
	class(t, h, "B3", "bacon", "2026-10-24 13:00")
	n := party("B3", "Linus F.", 1)
	n.PayLater = true
	if b := book(t, h, n); b.HoldUntil != h.At("2026-10-04 12:00") || b.Source != "online" {
		t.Errorf("held until %s, %s", b.HoldUntil.Show(h.Loc), b.Source)
	}
	if got := words(send(t, h)); got != "held linus@post.example.test" {
		t.Errorf("went out: %s", got)
	}
}

// TestWaitingList is scenario S-03: a seat comes free, a pair waits first, then a single.
func TestWaitingList(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B2", "bacon", "2026-10-17 14:00")
		h.Go("2026-09-10 12:00")
		bought(t, h, party("B2", "Friedel B.", 6))
		bought(t, h, party("B2", "Oona T.", 2))
		bought(t, h, party("B2", "Casper N.", 1))
		h.Go("2026-10-11 12:00")
		k10 := bought(t, h, party("B2", "Marguerite B.", 1))
		wait := func(at, name string, n int) *store.BookingView {
			h.Go(at)
			v, err := h.JoinWaiting(h.Ctx, shop.Customer(name), party("B2", name, n), store.Once{})
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		k11 := wait("2026-10-12 12:00", "Teodor V.", 2)
		k12 := wait("2026-10-13 12:00", "Yusra K.", 1)
		h.Go("2026-10-14 09:30")
		send(t, h)
		q, err := h.LeaveQuote(h.Ctx, k10.ID)
		if err != nil || q.Words != "$0.00 back; $95.00 credit if the seat is sold again" {
			t.Fatalf("before she confirms she reads %q, %v", q.Words, err)
		}
		left, err := h.LetGo(h.Ctx, shop.Customer("Marguerite B."), k10.ID, shop.LeaveIn{}, store.Once{})
		if err != nil || left.Paid != 95_00 || left.Kept != 95_00 || left.Owes != 0 {
			t.Fatalf("LetGo = %+v, %v", left, err)
		}
		o := again(t, h, k12)
		if o.State != shop.Offered || o.OfferUntil != h.At("2026-10-15 09:30") || o.Class.Left != 0 {
			t.Fatalf("Yusra: %s until %s, %d left", o.State, o.OfferUntil.Show(h.Loc), o.Class.Left)
		}
		if got := words(send(t, h)); got != "let-go marguerite@post.example.test, offered yusra@post.example.test" {
			t.Errorf("went out: %s; Teodor gets no message", got)
		}
		h.Go("2026-10-15 09:30")
		if got := words(send(t, h)); got != "offer-lapsed yusra@post.example.test" {
			t.Errorf("went out: %s", got)
		}
		if v := again(t, h, k12); v.State != shop.LetGo || v.Class.Left != 1 || v.Class.Price != 95_00 {
			t.Errorf("after the offer: %s, %d left at %v", v.State, v.Class.Left, v.Class.Price)
		}
		if v := again(t, h, k11); v.State != shop.Waiting || v.Ahead != 0 {
			t.Errorf("Teodor: %s, %d before him", v.State, v.Ahead)
		}
		h.Go("2026-10-16 11:00")
		send(t, h)
		bo := bought(t, h, party("B2", "Bo R.", 1))
		if bo.Total != 95_00 {
			t.Errorf("Bo pays %v", bo.Total)
		}
		got := send(t, h)
		if words(got) != "booked bo@post.example.test, credit marguerite@post.example.test" &&
			words(got) != "credit marguerite@post.example.test, booked bo@post.example.test" {
			t.Fatalf("went out: %s", words(got))
		}
		for _, m := range got {
			if m.Kind == shop.NoticeCredit && (m.Facts.Credit != 95_00 || m.Facts.DueOn != unit.DayOf(2028, 10, 16)) {
				t.Errorf("her credit is %v until %v, want $95.00 until 2028-10-16", m.Facts.Credit, m.Facts.DueOn)
			}
		}
		if v := again(t, h, k10); v.Paid != 0 || v.Kept != 0 {
			t.Errorf("her booking then has %v paid, %v kept", v.Paid, v.Kept)
		}
	})
}

// TestLateOffer is S-03, step 5: offered 47.5 hours before the class an offer stands four
// hours (R9); and one that falls into quiet hours starts its clock at 08:00.
func TestLateOffer(t *testing.T) {
	for _, c := range []struct{ leave, until string }{
		{"2026-10-15 14:30", "2026-10-15 18:30"},
		{"2026-10-12 21:00", "2026-10-14 08:00"}, // sent Tue 08:00, stands 24 h
		{"2026-10-16 22:00", "2026-10-17 12:00"}, // sent on the day, 08:00, four hours
	} {
		storetest.Each(t, func(t *testing.T, h *storetest.House) {
			class(t, h, "B2", "bacon", "2026-10-17 14:00", seats(1))
			b := bought(t, h, party("B2", "Marguerite B.", 1))
			w, err := h.JoinWaiting(h.Ctx, shop.Customer("y"), party("B2", "Yusra K.", 1), store.Once{})
			if err != nil {
				t.Fatal(err)
			}
			h.Go(c.leave)
			send(t, h)
			if _, err := h.LetGo(h.Ctx, shop.Customer("m"), b.ID, shop.LeaveIn{}, store.Once{}); err != nil {
				t.Fatal(err)
			}
			if v := again(t, h, w); v.OfferUntil != h.At(c.until) || v.State != shop.Offered {
				t.Errorf("left %s: %s until %s, want %s", c.leave, v.State, v.OfferUntil.Show(h.Loc), c.until)
			}
		})
	}
}
