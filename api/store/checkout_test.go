package store_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// A till stands for the payment provider: pages, payments and refunds in memory, with the
// faults a test asks for.
type till struct {
	mu      sync.Mutex
	pages   map[string]unit.Money // open ones
	paid    map[string]unit.Money
	back    map[string]unit.Money // given back, by key: ordered twice it is one
	away    error
	refuses bool
	pending bool
	orders  int
}

func newTill() *till {
	return &till{pages: map[string]unit.Money{}, paid: map[string]unit.Money{}, back: map[string]unit.Money{}}
}

func (p *till) refund(_ context.Context, r shop.Refund, paymentRef string) (store.RefundResult, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.orders++
	switch {
	case p.away != nil:
		return store.RefundResult{}, p.away
	case p.refuses:
		return store.RefundResult{}, fmt.Errorf("%w: card closed", store.ErrRefundRefused)
	case r.Ref != "" || p.pending:
		p.back[r.Key] = r.Cents
		state := shop.RefundSent
		if !p.pending {
			state = shop.RefundDone
		}
		return store.RefundResult{Ref: "re_" + r.Key, State: state}, nil
	}
	p.back[r.Key] = r.Cents
	return store.RefundResult{Ref: "re_" + r.Key, State: shop.RefundDone}, nil
}

func (p *till) look(_ context.Context, ref string) (shop.CheckoutResult, error) {
	if p.away != nil {
		return shop.CheckoutResult{}, p.away
	}
	if c, ok := p.paid[ref]; ok {
		return shop.CheckoutResult{State: shop.CheckoutPaid, Cents: c, PaymentRef: "pi_" + ref}, nil
	}
	if _, ok := p.pages[ref]; ok {
		return shop.CheckoutResult{State: shop.CheckoutOpen}, nil
	}
	return shop.CheckoutResult{State: shop.CheckoutEnded}, nil
}

func (p *till) given() (sum unit.Money) {
	for _, c := range p.back {
		sum += c
	}
	return sum
}

// begun begins a checkout for a booking and opens its page.
func begun(t testing.TB, h *storetest.House, p *till, id shop.BookingID, ask shop.CheckoutAsk) *shop.Checkout {
	t.Helper()
	k, err := h.BeginCheckout(h.Ctx, shop.Customer("payer"), id, ask)
	if err != nil {
		t.Fatalf("BeginCheckout = %v", err)
	}
	ref := fmt.Sprintf("cs_%d", k.ID)
	if err := h.CheckoutOpened(h.Ctx, k.ID, ref, "https://pay.example.test/"+ref); err != nil {
		t.Fatal(err)
	}
	k.Ref = ref
	p.pages[ref] = k.Cents
	return k
}

// paysAt pays at the provider's page; told is whether its notice comes.
func (p *till) pays(t testing.TB, h *storetest.House, k *shop.Checkout, told bool) {
	t.Helper()
	p.paid[k.Ref] = k.Cents
	delete(p.pages, k.Ref)
	if told {
		if err := h.CheckoutPaid(h.Ctx, k.Ref, shop.CheckoutResult{State: shop.CheckoutPaid, Cents: k.Cents, PaymentRef: "pi_" + k.Ref}); err != nil {
			t.Fatalf("CheckoutPaid = %v", err)
		}
	}
}

func refunds(t testing.TB, h *storetest.House, p *till) int {
	t.Helper()
	n, err := h.SendRefunds(h.Ctx, p.refund)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// R3 online: grace while paying, one payment however often it is told, a word of its end
// that comes after the money means nothing.
func TestCheckoutMakesSeatsFirm(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00")
		h.Go("2026-10-20 20:10")
		p := newTill()
		b := book(t, h, party("B5", "Nerys D.", 2))
		h.Go("2026-10-20 20:25")
		k := begun(t, h, p, b.ID, shop.CheckoutAsk{Key: "press"})
		if k.Cents != 210_00 {
			t.Errorf("asked for %s, want $210.00", k.Cents)
		}
		if again, err := h.BeginCheckout(h.Ctx, shop.Customer("payer"), b.ID, shop.CheckoutAsk{Key: "press"}); err != nil || again.ID != k.ID {
			t.Errorf("the same press again: %+v, %v", again, err)
		}
		h.Go("2026-10-20 20:35") // 25 minutes after booking: the hold's 20 are over, the grace is not
		due(t, h)
		p.pays(t, h, k, true)
		p.pays(t, h, k, true)
		if err := h.CheckoutEnded(h.Ctx, k.Ref); err != nil {
			t.Fatal(err)
		}
		v := again(t, h, b)
		if v.State != shop.Firm || v.Paid != 210_00 || v.Owes != 0 {
			t.Errorf("then: %s, paid %s, owes %s", v.State, v.Paid, v.Owes)
		}
		if ks, err := h.Checkouts(h.Ctx, b.ID); err != nil || len(ks) != 1 || ks[0].State != shop.CheckoutPaid || ks[0].Outcome != "paid" {
			t.Errorf("%+v, %v", ks, err)
		}
		stands(t, h, shop.InOnline, 210_00)
		if n := refunds(t, h, p); n != 0 {
			t.Errorf("%d refunds", n)
		}
	})
}

// A payment that comes after its seats were let go is returned in full at once, the party
// goes to the head of the waiting list, and offers already out stand (R3, R9).
func TestCheckoutPaidTooLate(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00", seats(2))
		h.Go("2026-10-20 12:00")
		p := newTill()
		b := book(t, h, party("B5", "Nerys D.", 2))
		first, second := wait(t, h, party("B5", "Yusra K.", 1)), wait(t, h, party("B5", "Teodor V.", 2))
		k := begun(t, h, p, b.ID, shop.CheckoutAsk{Key: "press"})
		h.Go("2026-10-20 12:29")
		due(t, h)
		if v := again(t, h, b); v.State != shop.Held {
			t.Fatalf("a minute before the grace is over: %s", v.State)
		}
		h.Go("2026-10-20 12:30")
		due(t, h)
		if v := again(t, h, b); v.State != shop.LetGo {
			t.Fatalf("when it is over: %s", v.State)
		}
		if again(t, h, first).State != shop.Offered || again(t, h, second).State != shop.Waiting {
			t.Fatalf("the first that fits has an offer: %s, %s", again(t, h, first).State, again(t, h, second).State)
		}
		send(t, h)
		h.Go("2026-10-20 12:40")
		p.pays(t, h, k, true)
		p.pays(t, h, k, true)
		if again(t, h, first).State != shop.Offered {
			t.Error("an offer that was out has been taken back")
		}
		got := send(t, h)
		if n := ofKind(got, shop.NoticeReturned); n == nil || n.Facts.Back != 210_00 || !strings.Contains(n.Facts.Reason, "first on the waiting list") {
			t.Errorf("told: %s", words(got))
		}
		if n := refunds(t, h, p); n != 1 || p.given() != 210_00 {
			t.Errorf("%d refunds of %s, want one of $210.00", n, p.given())
		}
		stands(t, h, shop.InOnline, 0)
		// The first lets its offer go: one seat and one seat are two, and the late party is
		// before the other who waited all along.
		if err := h.LeaveWaiting(h.Ctx, shop.Customer("Yusra"), first.ID); err != nil {
			t.Fatal(err)
		}
		if again(t, h, second).State != shop.Waiting {
			t.Error("the late party does not stand first")
		}
		state, err := store.Get[string](h.Ctx, h.Store, "SELECT state FROM bookings WHERE payer_name = 'Nerys D.' ORDER BY number DESC LIMIT 1")
		if err != nil || state != string(shop.Offered) {
			t.Errorf("the late party is %q, %v", state, err)
		}
		// Their bank sends the same sum by hand as well: it goes back, and they wait once.
		if _, err := h.Pay(h.Ctx, nadia, b.ID, shop.PaymentIn{Cents: 210_00, Method: "transfer", Key: "by hand"}); err != nil {
			t.Fatal(err)
		}
		parties, err := store.Get[int](h.Ctx, h.Store, "SELECT count(*) FROM bookings WHERE payer_name = 'Nerys D.'")
		if err != nil || parties != 2 {
			t.Errorf("the late party stands in %d bookings, want the one let go and one waiting (%v)", parties, err)
		}
		stands(t, h, shop.InOnline, 0)
	})
}

func wait(t testing.TB, h *storetest.House, n shop.NewBooking) *store.BookingView {
	t.Helper()
	v, err := h.JoinWaiting(h.Ctx, shop.Customer(n.PayerName), n, store.Once{})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Notices that are lost: the provider is asked, later and later, until it says.
func TestCheckoutWhoseNoticeIsLost(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00")
		h.Go("2026-10-20 12:00")
		p := newTill()
		b, gone := book(t, h, party("B5", "Nerys D.", 2)), book(t, h, party("B5", "Ilse I.", 1))
		k, never := begun(t, h, p, b.ID, shop.CheckoutAsk{Key: "a"}), begun(t, h, p, gone.ID, shop.CheckoutAsk{Key: "b"})
		p.pays(t, h, k, false)
		ask := func(want int) {
			t.Helper()
			if n, err := h.AskAfterCheckouts(h.Ctx, p.look); err != nil || n != want {
				t.Errorf("settled %d, %v; want %d", n, err, want)
			}
		}
		ask(0) // its notice may still come
		p.away = errors.New("no way to the provider")
		h.Clock.Add(4 * time.Minute)
		ask(0)
		if v := again(t, h, b); v.State != shop.Held {
			t.Errorf("%s while nobody knows", v.State)
		}
		p.away = nil
		ask(0) // not at once again
		h.Clock.Add(3 * time.Minute)
		ask(1)
		if v := again(t, h, b); v.State != shop.Firm || v.Paid != 210_00 {
			t.Errorf("%s, paid %s", v.State, v.Paid)
		}
		p.pays(t, h, k, true) // the notice comes after all
		delete(p.pages, never.Ref)
		h.Clock.Add(time.Hour)
		ask(1)
		if v := again(t, h, b); v.Paid != 210_00 {
			t.Errorf("paid %s", v.Paid)
		}
		h.Clock.Add(24 * time.Hour)
		ask(0)
	})
}

// Two pages open for the same seats: the second payment is more than is owed.
func TestCheckoutPaidInTwoTabs(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00")
		h.Go("2026-10-20 12:00")
		p := newTill()
		b := book(t, h, party("B5", "Nerys D.", 1))
		one, two := begun(t, h, p, b.ID, shop.CheckoutAsk{Key: "a"}), begun(t, h, p, b.ID, shop.CheckoutAsk{Key: "b"})
		p.pays(t, h, one, true)
		send(t, h)
		p.pays(t, h, two, true)
		if got := words(send(t, h)); got != "returned nerys@post.example.test" {
			t.Errorf("told: %s", got)
		}
		if v := again(t, h, b); v.Paid != 105_00 {
			t.Errorf("paid %s", v.Paid)
		}
		refunds(t, h, p)
		if p.given() != 105_00 {
			t.Errorf("%s went back", p.given())
		}
		stands(t, h, shop.InOnline, 105_00)
	})
}

// A code laid on the table that is spent elsewhere before the money comes: the seats cannot
// be had for the rest alone, so the money goes back and they stay held while they may.
func TestCheckoutWhoseCodeWasSpent(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00")
		h.Go("2026-10-20 12:00")
		p := newTill()
		v, err := h.SellVoucher(h.Ctx, shop.Customer("U"), shop.NewVoucher{Kind: "money", Cents: 50_00, BuyerName: "U", BuyerEmail: "u@post.example.test"}, shop.PaymentIn{Cents: 50_00, Method: "till", Key: "v"})
		if err != nil {
			t.Fatal(err)
		}
		a, b := book(t, h, party("B5", "Nerys D.", 1)), book(t, h, party("B5", "Ilse I.", 1))
		k := begun(t, h, p, a.ID, shop.CheckoutAsk{Key: "a", Vouchers: []string{v.Code}})
		if k.Cents != 55_00 {
			t.Errorf("asked for %s beside the voucher", k.Cents)
		}
		stands(t, h, shop.OwedVoucher, 50_00) // not before the money comes
		pay(t, h, b, shop.PaymentIn{Cents: 55_00, Vouchers: []string{v.Code}})
		send(t, h)
		p.pays(t, h, k, true)
		p.pays(t, h, k, true)
		got := send(t, h)
		if n := ofKind(got, shop.NoticeReturned); n == nil || n.Facts.Back != 55_00 || !strings.Contains(n.Facts.Reason, "has been used") {
			t.Errorf("told: %s %+v", words(got), n)
		}
		if s := again(t, h, a); s.State != shop.Held || s.Paid != 0 {
			t.Errorf("%s, paid %s", s.State, s.Paid)
		}
		refunds(t, h, p)
		if p.given() != 55_00 {
			t.Errorf("%s went back", p.given())
		}
	})
}

// R8: money goes back the way it came, the card machine's last begun before the online
// payments, and of those the last paid before the first.
func TestRefundsGoTheWayTheMoneyCame(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		h.Go("2026-09-12 12:00")
		p := newTill()
		b := book(t, h, party("D3", "Cordelia F.", 6))                             // $990.00
		p.pays(t, h, begun(t, h, p, b.ID, shop.CheckoutAsk{Key: "deposit"}), true) // $396.00 online
		if _, err := h.Pay(h.Ctx, storetest.Nadia, b.ID, shop.PaymentIn{Cents: 94_00, Method: "card", Key: "c"}); err != nil {
			t.Fatal(err)
		}
		rest := begun(t, h, p, b.ID, shop.CheckoutAsk{Key: "rest", All: true}) // $500.00 online
		if rest.Cents != 500_00 {
			t.Fatalf("the rest is %s", rest.Cents)
		}
		p.pays(t, h, rest, true)
		// Four of six go while all money comes back: $660.00, of them $94.00 by the machine,
		// $500.00 from the second online payment (71 + 165 + 165 + 99, seat by seat), $66.00
		// from the first.
		v := again(t, h, b)
		var gone []shop.SeatLeave
		for _, g := range v.People[2:] {
			gone = append(gone, shop.SeatLeave{Seat: g.SeatID, Choice: "money"})
		}
		if _, err := h.LetGo(h.Ctx, shop.Customer("c"), b.ID, shop.LeaveIn{Seats: gone}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		stands(t, h, shop.InCard, 0)
		stands(t, h, shop.InOnline, 330_00)
		open, err := h.Refunds(h.Ctx)
		if err != nil {
			t.Fatal(err)
		}
		var parts []string
		for _, r := range open {
			parts = append(parts, r.Cents.String())
		}
		slices.Sort(parts)
		if !slices.Equal(parts, []string{"$165.00", "$165.00", "$66.00", "$71.00", "$99.00"}) {
			t.Errorf("on the way back: %v", parts)
		}
		refunds(t, h, p)
		if p.given() != 566_00 {
			t.Errorf("%s went back online, want $566.00", p.given())
		}
	})
}

// A refund is handed over at least once and given once: tried again later, asked after when
// the bank takes its time, left to the owner when the provider will not.
func TestRefundsThatDoNotGoThrough(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00")
		h.Go("2026-09-20 12:00")
		p := newTill()
		buy := func(name string) shop.BookingID {
			b := book(t, h, party("B5", name, 1))
			p.pays(t, h, begun(t, h, p, b.ID, shop.CheckoutAsk{Key: name}), true)
			return b.ID
		}
		leave := func(id shop.BookingID) {
			t.Helper()
			if _, err := h.LetGo(h.Ctx, shop.Customer("x"), id, shop.LeaveIn{}, store.Once{}); err != nil {
				t.Fatal(err)
			}
		}
		a, b := buy("Nerys D."), buy("Ilse I.")
		leave(a)
		p.away = errors.New("no way to the provider")
		if n := refunds(t, h, p); n != 0 {
			t.Errorf("%d handed over", n)
		}
		if n := refunds(t, h, p); n != 0 || p.orders != 1 {
			t.Errorf("tried %d times at once", p.orders)
		}
		p.away, p.pending = nil, true
		h.Clock.Add(2 * time.Minute)
		if n := refunds(t, h, p); n != 1 {
			t.Errorf("%d handed over", n)
		}
		rs, err := h.Refunds(h.Ctx)
		if err != nil || len(rs) != 1 || rs[0].State != shop.RefundSent || rs[0].For != "K01 Nerys D." {
			t.Fatalf("%+v, %v", rs, err)
		}
		p.pending = false
		h.Clock.Add(25 * time.Hour)
		refunds(t, h, p) // asked what became of it
		if rs, err := h.Refunds(h.Ctx); err != nil || len(rs) != 0 || p.given() != 95_00 {
			t.Errorf("%+v, %v; %s given", rs, err, p.given())
		}
		// The provider will not: the owner is told once and settles it.
		leave(b)
		p.refuses = true
		refunds(t, h, p)
		refunds(t, h, p)
		rs, err = h.Refunds(h.Ctx)
		if err != nil || len(rs) != 1 || rs[0].State != shop.RefundFailed {
			t.Fatalf("%+v, %v", rs, err)
		}
		if err := h.RetryRefund(h.Ctx, storetest.Odile, rs[0].ID); err != nil {
			t.Fatal(err)
		}
		refunds(t, h, p)
		if err := h.RefundOtherWay(h.Ctx, storetest.Odile, rs[0].ID, "voucher", ""); err == nil {
			t.Error("given back as a voucher")
		}
		if err := h.RefundOtherWay(h.Ctx, storetest.Odile, rs[0].ID, "cash", "came by"); err != nil {
			t.Fatal(err)
		}
		if err := h.RefundOtherWay(h.Ctx, storetest.Odile, rs[0].ID, "cash", "came by"); err == nil {
			t.Error("given back twice")
		}
		stands(t, h, shop.InOnline, 95_00)
		stands(t, h, shop.InCash, -95_00)
		stands(t, h, shop.OwedBooking, 0)
	})
}

// A present bought online is sold when its money comes, at the price it was begun at.
func TestVoucherBoughtOnline(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		h.Go("2026-10-20 08:50")
		p := newTill()
		n := shop.NewVoucher{Kind: "seat", ClassKind: "bacon", BuyerName: "Ulla", BuyerEmail: "ulla@post.example.test"}
		k, err := h.BeginVoucherCheckout(h.Ctx, shop.Customer("online"), n, "press")
		if err != nil || k.Cents != 95_00 {
			t.Fatalf("%+v, %v", k, err)
		}
		if err := h.CheckoutOpened(h.Ctx, k.ID, "cs_v", "https://pay.example.test/v"); err != nil {
			t.Fatal(err)
		}
		k.Ref = "cs_v"
		stands(t, h, shop.OwedVoucher, 0)
		h.Go("2026-10-20 09:05") // the price rose at 09:00 (R1)
		p.pays(t, h, k, true)
		p.pays(t, h, k, true)
		if got := words(send(t, h)); got != "voucher-sold ulla@post.example.test" {
			t.Errorf("told: %s", got)
		}
		sold, err := h.Checkout(h.Ctx, h.CheckoutSecret(k.ID))
		if err != nil || sold.VoucherID == 0 {
			t.Fatalf("%+v, %v", sold, err)
		}
		if v, err := h.VoucherByCode(h.Ctx, h.VoucherCode(sold.VoucherID)); err != nil || v.Worth != 95_00 || v.ClassKind == "" {
			t.Errorf("%+v, %v", v, err)
		}
		if _, err := h.Checkout(h.Ctx, fmt.Sprintf("%d-%s", k.ID, strings.Repeat("0", 32))); err == nil {
			t.Error("anybody's word opens the page")
		}
		stands(t, h, shop.OwedVoucher, 95_00)
		stands(t, h, shop.InOnline, 95_00)
		// Another sum than the page asked for cannot be a voucher of it: it goes back.
		k, err = h.BeginVoucherCheckout(h.Ctx, shop.Customer("online"), n, "press 2")
		if err != nil || k.Cents != 105_00 {
			t.Fatalf("%+v, %v", k, err)
		}
		if err := h.CheckoutOpened(h.Ctx, k.ID, "cs_w", "https://pay.example.test/w"); err != nil {
			t.Fatal(err)
		}
		k.Ref, k.Cents = "cs_w", 100_00
		p.pays(t, h, k, true)
		refunds(t, h, p)
		if got := words(send(t, h)); got != "returned ulla@post.example.test" || p.given() != 100_00 {
			t.Errorf("told: %s; %s went back", got, p.given())
		}
		stands(t, h, shop.OwedVoucher, 95_00)
	})
}

// Many tell of the same payment at once: it counts once.
func TestCheckoutToldByManyAtOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00")
		h.Go("2026-10-20 12:00")
		p := newTill()
		b := book(t, h, party("B5", "Nerys D.", 1))
		k := begun(t, h, p, b.ID, shop.CheckoutAsk{Key: "a"})
		var all sync.WaitGroup
		for range 12 {
			all.Go(func() {
				if err := h.CheckoutPaid(h.Ctx, k.Ref, shop.CheckoutResult{State: shop.CheckoutPaid, Cents: k.Cents, PaymentRef: "pi"}); err != nil {
					t.Error(err)
				}
			})
		}
		all.Wait()
		if v := again(t, h, b); v.Paid != 105_00 || v.State != shop.Firm {
			t.Errorf("%s, paid %s", v.State, v.Paid)
		}
		stands(t, h, shop.InOnline, 105_00)
	})
}
