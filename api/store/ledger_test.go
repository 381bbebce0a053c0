package store_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// stands holds an account's balance over all subjects against cents, as the books show it:
// what is owed or earned above zero.
func stands(t testing.TB, h *storetest.House, a shop.LedgerAccount, want unit.Money) {
	t.Helper()
	got, err := store.Get[unit.Money](h.Ctx, h.Store, "SELECT coalesce(sum(cents), 0) FROM ledger_lines WHERE account = ?", a)
	if err != nil {
		t.Fatal(err)
	}
	if g, _ := a.Group(); g.Owing {
		got = -got
	}
	if got != want {
		t.Errorf("%s stands at %s, want %s", a, got, want)
	}
}

// The ledger through scenario S-15 and past the class, by hand: $990.00 in; one friend takes
// $82.50, one $165.00 as credit; four seats of $165.00 and the $82.50 kept stay.
func TestLedgerOfTwoWhoDropOut(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		h.Go("2026-09-12 12:00")
		k44 := bought(t, h, party("D3", "Cordelia F.", 6))
		stands(t, h, shop.InTill, 396_00)
		stands(t, h, shop.OwedBooking, 396_00)
		h.Go("2026-10-12 10:00")
		in := shop.PaymentIn{Cents: 594_00, Method: "card", Key: "counter"}
		if _, err := h.Pay(h.Ctx, storetest.Nadia, k44.ID, in); err != nil {
			t.Fatal(err)
		}
		h.Go("2026-10-20 12:00")
		gone := []shop.SeatLeave{{Seat: k44.People[4].SeatID, Choice: "money"}, {Seat: k44.People[5].SeatID, Choice: "credit"}}
		if _, err := h.LetGo(h.Ctx, shop.Customer("Cordelia F."), k44.ID, shop.LeaveIn{Seats: gone}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		// The last paid goes back first (R8): the counter's card machine, not the till.
		stands(t, h, shop.InTill, 396_00)
		stands(t, h, shop.InCard, 511_50)
		stands(t, h, shop.OwedBooking, 660_00)
		stands(t, h, shop.OwedCredit, 165_00)
		stands(t, h, shop.KeptSeats, 82_50)
		stands(t, h, shop.EarnedClass, 0)
		if err := h.GoAhead(h.Ctx, storetest.Odile, "D3"); err != nil {
			t.Fatal(err)
		}
		h.Go("2026-10-29 21:00")
		if err := h.MarkTaught(h.Ctx, storetest.Tobias, "D3"); err != nil {
			t.Fatal(err)
		}
		stands(t, h, shop.OwedBooking, 0)
		stands(t, h, shop.EarnedClass, 660_00)
		h.Go("2028-10-21 12:00") // the credit was good to 2028-10-20
		due(t, h)
		stands(t, h, shop.OwedCredit, 0)
		stands(t, h, shop.RunOut, 165_00)
	})
}

// R42 and scenario S-13: revenue counts what was paid for a seat voucher, $95.00, not the
// $105.00 the seat costs by then; until it is used $95.00 are owed.
func TestLedgerOfAPresent(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		h.Go("2026-10-12 12:00")
		class(t, h, "B9", "bacon", "2026-12-12 14:00")
		v, err := h.SellVoucher(h.Ctx, shop.Customer("Ulla"), shop.NewVoucher{Kind: "seat", ClassKind: "bacon", BuyerName: "Ulla", BuyerEmail: "ulla@post.example.test"},
			shop.PaymentIn{Cents: 95_00, Method: "till", Key: "v"})
		if err != nil {
			t.Fatal(err)
		}
		stands(t, h, shop.OwedVoucher, 95_00)
		h.Go("2026-11-25 12:00")
		b := pay(t, h, book(t, h, party("B9", "Father F.", 1)), shop.PaymentIn{Key: "f1", Vouchers: []string{v.Code}}).Booking
		stands(t, h, shop.OwedVoucher, 0)
		stands(t, h, shop.OwedBooking, 105_00)
		stands(t, h, shop.SeatLift, -10_00)
		// Seventeen days before: the voucher is whole again, and so are the books.
		if _, err := h.LetGo(h.Ctx, shop.Customer("f"), b.ID, shop.LeaveIn{}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		stands(t, h, shop.OwedVoucher, 95_00)
		stands(t, h, shop.OwedBooking, 0)
		stands(t, h, shop.SeatLift, 0)
		pay(t, h, book(t, h, party("B9", "Father F.", 1)), shop.PaymentIn{Key: "f2", Vouchers: []string{v.Code}})
		if err := h.GoAhead(h.Ctx, storetest.Odile, "B9"); err != nil {
			t.Fatal(err)
		}
		h.Go("2026-12-12 17:00")
		if err := h.MarkTaught(h.Ctx, storetest.Tobias, "B9"); err != nil {
			t.Fatal(err)
		}
		stands(t, h, shop.EarnedClass, 95_00)
		stands(t, h, shop.OwedBooking, 0)
		stands(t, h, shop.SeatLift, 0)
		stands(t, h, shop.InTill, 95_00)
	})
}

// A voucher whose use for a party was only a part of it comes back as that part, not whole
// beside what it paid elsewhere.
func TestVoucherUsedTwiceComesBackOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B9", "bacon", "2026-10-10 14:00")
		class(t, h, "D9", "pig", "2026-10-15 18:00")
		h.Go("2026-08-10 12:00")
		v, err := h.SellVoucher(h.Ctx, shop.Customer("U"), shop.NewVoucher{Kind: "seat", ClassKind: "bacon", BuyerName: "U", BuyerEmail: "u@post.example.test"},
			shop.PaymentIn{Cents: 95_00, Method: "till", Key: "v"})
		if err != nil {
			t.Fatal(err)
		}
		a, b := book(t, h, party("D9", "Ann A.", 1)), book(t, h, party("D9", "Ben B.", 1))
		// Ann pays all but $60.00 and the voucher the rest; the $35.00 left of it go to Ben.
		card, err := h.Pay(h.Ctx, storetest.Nadia, a.ID, shop.PaymentIn{Cents: 105_00, Method: "card", Key: "a", Vouchers: []string{v.Code}})
		if err == nil {
			t.Fatalf("over-paying by card at the counter was taken: %+v", card)
		}
		if _, err := h.Pay(h.Ctx, storetest.Nadia, a.ID, shop.PaymentIn{Cents: 70_00, Method: "card", Key: "a2", Vouchers: []string{v.Code}}); err != nil {
			t.Fatal(err)
		}
		pay(t, h, b, shop.PaymentIn{Cents: 165_00, Key: "b"})
		if _, err := h.LetGo(h.Ctx, shop.Customer("Ann"), a.ID, shop.LeaveIn{}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		stands(t, h, shop.OwedVoucher, 95_00)
		stands(t, h, shop.InCard, 0)
		stands(t, h, shop.OwedBooking, 165_00)
	})
}

// TestCodesBroughtTogether: each code is told apart on the way to paying, a code typed twice
// in two spellings is one voucher, and what was foretold is what is taken (R7, R8).
func TestCodesBroughtTogether(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B9", "bacon", "2026-10-10 14:00")
		h.Go("2026-08-10 12:00")
		sell := func(v shop.NewVoucher, cents unit.Money) string {
			t.Helper()
			v.BuyerName, v.BuyerEmail = "U", "u@post.example.test"
			sold, err := h.SellVoucher(h.Ctx, shop.Customer("U"), v, shop.PaymentIn{Cents: cents, Method: "till", Key: fmt.Sprint(v.Kind, cents)})
			if err != nil {
				t.Fatal(err)
			}
			return sold.Code
		}
		seat := sell(shop.NewVoucher{Kind: "seat", ClassKind: "bacon"}, 95_00)
		sum := sell(shop.NewVoucher{Kind: "money", Cents: 120_00}, 120_00)
		more := sell(shop.NewVoucher{Kind: "money", Cents: 50_00}, 50_00)
		b := book(t, h, party("B9", "Ann A.", 2)) // $190.00
		typed := []string{sum, seat, strings.ToUpper(strings.ReplaceAll(sum, "-", " ")), more, seat}
		q, err := h.PayQuote(h.Ctx, storetest.Nadia, b.ID, typed, nil)
		if err != nil {
			t.Fatal(err)
		}
		end := func(code string) string { return "Voucher ending in " + code[len(code)-4:] }
		want := []store.Cover{{Name: end(seat), Cents: 95_00, Seat: true}, {Name: end(sum), Cents: 95_00, Left: 25_00}, {Name: end(more), Left: 50_00}}
		if !slices.Equal(q.Covers, want) || q.Covered != 190_00 || q.All != 0 {
			t.Errorf("foretold %+v, want %+v", q, want)
		}
		pay(t, h, b, shop.PaymentIn{Key: "b", Vouchers: typed})
		stands(t, h, shop.OwedVoucher, 75_00)
		stands(t, h, shop.OwedBooking, 190_00)
	})
}

func TestLedgerRefusesWhatDoesNotBalance(t *testing.T) {
	h := storetest.SQLite(t)
	for name, lines := range map[string][]shop.LedgerLine{
		"a cent too much": {{Account: shop.InCash, Cents: 10_01}, {Account: shop.OwedBooking, Subject: 1, Cents: -10_00}},
		"one line":        {{Account: shop.InCash, Cents: 1}},
		"another account": {{Account: "the owner's pocket", Cents: 1}, {Account: shop.InCash, Cents: -1}},
	} {
		if err := h.Post(h.Ctx, shop.LedgerEntry{Key: name}, lines...); err == nil {
			t.Errorf("%s was written", name)
		}
	}
	if n, err := store.Get[int](h.Ctx, h.Store, "SELECT count(*) FROM ledger_entries"); err != nil || n != 0 {
		t.Errorf("%d entries, %v", n, err)
	}
}

// The kinder way is kept by the rule and given: both stand in the books (R4).
func TestLedgerOfAKindness(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B9", "bacon", "2026-10-10 14:00")
		h.Go("2026-10-06 12:00")
		b := bought(t, h, party("B9", "Ilse I.", 1))
		if _, err := h.LetGo(h.Ctx, storetest.Odile, b.ID, shop.LeaveIn{Kinder: true, Reason: "in hospital"}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		stands(t, h, shop.InTill, 0)
		stands(t, h, shop.KeptSeats, 95_00)
		stands(t, h, shop.GivenKindly, 95_00)
		stands(t, h, shop.OwedBooking, 0)
	})
}

// Whatever people do in whatever order, the books balance and nobody is owed an unexplained
// cent: after each step every rule about money holds, and in the end what is owed to all
// bookings is what their pages say.
func TestNobodyIsOwedAnUnexplainedCent(t *testing.T) {
	run := func(t *testing.T, open func(t *testing.T) *storetest.House, most int) {
		runs := 0
		rapid.Check(t, func(rt *rapid.T) {
			if runs++; runs > most {
				return // each run opens a shop of its own
			}
			booksOf(t, rt, open(t))
		})
	}
	t.Run("sqlite", func(t *testing.T) { run(t, func(t *testing.T) *storetest.House { return storetest.SQLite(t) }, 12) })
	t.Run("postgres", func(t *testing.T) {
		storetest.PostgresURL(t) // says so when there is none
		run(t, func(t *testing.T) *storetest.House { return storetest.Open(t, storetest.PostgresURL(t)) }, 3)
	})
}

func booksOf(t *testing.T, rt *rapid.T, h *storetest.House) {
	for code, at := range map[string]string{"B1": "2026-10-10 14:00", "B2": "2026-10-17 14:00", "B3": "2026-11-21 14:00"} {
		class(t, h, code, "bacon", at, seats(6))
	}
	class(t, h, "D1", "pig", "2026-10-15 18:00")
	h.Go(rapid.SampledFrom([]string{"2026-09-20 10:00", "2026-10-02 10:00", "2026-10-07 10:00"}).Draw(rt, "begin"))
	type bought struct {
		id shop.BookingID
		by shop.Actor
	}
	var all []bought
	var vouchers []string
	n := 0
	key := func() string { n++; return fmt.Sprint("k", n) }
	credits := func() []string {
		ids, err := store.Get[[]shop.CreditID](h.Ctx, h.Store, "SELECT id FROM credits WHERE left_cents > 0 AND state = 'open' ORDER BY id DESC")
		if err != nil {
			rt.Fatal(err)
		}
		var out []string
		for _, id := range ids {
			out = append(out, h.CreditCode(id))
		}
		return out
	}
	// Whatever is refused is refused whole: only faults end the test.
	check := func(what string, err error) {
		if _, plain := shop.AsError(err); err != nil && !plain {
			rt.Fatalf("%s: %v", what, err)
		}
	}
	for range rapid.IntRange(10, 30).Draw(rt, "steps") {
		var b bought
		if len(all) > 0 {
			b = rapid.SampledFrom(all).Draw(rt, "who")
		}
		cmd := rapid.SampledFrom([]string{"book", "book", "book", "pay", "pay", "pay", "crash", "leave", "kinder", "leave some", "move", "thanks", "off", "answer", "move class", "voucher", "voucher", "taught", "days", "years", "rest"}).Draw(rt, "command")
		if b.id == 0 && cmd != "book" && cmd != "voucher" {
			continue
		}
		class := rapid.SampledFrom([]string{"B1", "B2", "B3", "D1"}).Draw(rt, "class")
		method := rapid.SampledFrom([]string{"cash", "card", "transfer", "till"}).Draw(rt, "method")
		switch cmd {
		case "book":
			p := party(class, fmt.Sprintf("P%d X.", len(all)), rapid.IntRange(1, 6).Draw(rt, "seats"))
			v, err := h.Book(h.Ctx, shop.Customer(p.PayerName), p, store.Once{})
			check(cmd, err)
			if err == nil {
				all = append(all, bought{v.ID, shop.Customer(p.PayerName)})
			}
		case "pay", "crash", "rest":
			in := shop.PaymentIn{Key: key(), Method: method}
			if rapid.Bool().Draw(rt, "codes") {
				in.Vouchers, in.Credits = vouchers, credits()
			}
			q, err := h.PayQuote(h.Ctx, b.by, b.id, in.Vouchers, in.Credits)
			if err != nil {
				in.Vouchers, in.Credits = nil, nil
				if q, err = h.PayQuote(h.Ctx, b.by, b.id, nil, nil); err != nil {
					rt.Fatal(err)
				}
			}
			in.Cents = q.Money
			if method == "till" {
				in.Cents += unit.Money(rapid.IntRange(0, 3).Draw(rt, "too much"))
			}
			if cmd == "crash" {
				if err := h.PayAndCrash(h.Ctx, storetest.Nadia, b.id, in); err == nil {
					rt.Fatal("a crash was no error")
				}
			} else {
				paid, err := h.Pay(h.Ctx, storetest.Nadia, b.id, in)
				check(cmd, err)
				if err == nil && paid.Waiting != nil {
					all = append(all, bought{paid.Waiting.ID, b.by})
				}
			}
		case "leave", "leave some", "kinder":
			in := shop.LeaveIn{Choice: rapid.SampledFrom([]string{"money", "credit"}).Draw(rt, "choice")}
			v, err := h.BookingByID(h.Ctx, b.id)
			if err != nil {
				rt.Fatal(err)
			}
			if cmd == "leave some" && len(v.People) > 1 {
				in.Seats = []shop.SeatLeave{{Seat: v.People[len(v.People)-1].SeatID}}
			}
			by := b.by
			if cmd == "kinder" {
				in.Kinder, in.Reason, by = true, "ill", storetest.Odile
			}
			_, err = h.LetGo(h.Ctx, by, b.id, in, store.Once{})
			check(cmd, err)
		case "move":
			_, err := h.MoveBooking(h.Ctx, b.by, b.id, class, store.Once{})
			check(cmd, err)
		case "thanks":
			check(cmd, h.MoveWithThanks(h.Ctx, storetest.Odile, b.id, class, store.Once{}))
		case "off":
			check(cmd, h.CallOff(h.Ctx, storetest.Odile, class, "a burst pipe"))
		case "move class":
			check(cmd, h.MoveClass(h.Ctx, storetest.Odile, class, unit.InstantOf(h.Clock.Now()).Add(20*24*time.Hour), "a burst pipe"))
		case "answer":
			_, err := h.Answer(h.Ctx, b.by, b.id, rapid.SampledFrom([]string{shop.AnswerMoney, shop.AnswerCredit, shop.AnswerMove, shop.AnswerAccept}).Draw(rt, "answer"), class)
			check(cmd, err)
		case "voucher":
			nv := shop.NewVoucher{Kind: "seat", ClassKind: "bacon", BuyerName: "U", BuyerEmail: "u@post.example.test"}
			in := shop.PaymentIn{Cents: 95_00, Method: "till", Key: key()}
			if rapid.Bool().Draw(rt, "money") {
				nv = shop.NewVoucher{Kind: "money", Cents: 70_00, BuyerName: "U", BuyerEmail: "u@post.example.test"}
				in.Cents = 70_00
			} else if unit.InstantOf(h.Clock.Now()) >= h.At("2026-10-20 09:00") {
				in.Cents = 105_00 // R1
			}
			v, err := h.SellVoucher(h.Ctx, shop.Customer("U"), nv, in)
			if err != nil {
				rt.Fatal(err)
			}
			vouchers = append(vouchers, v.Code)
		case "taught":
			check("go ahead", h.GoAhead(h.Ctx, storetest.Odile, class))
			check(cmd, h.MarkTaught(h.Ctx, storetest.Tobias, class))
		case "days":
			h.Clock.Add(time.Duration(rapid.SampledFrom([]int{1, 30, 24 * 3, 24 * 8}).Draw(rt, "hours")) * time.Hour)
			if err := h.RunDue(h.Ctx); err != nil {
				rt.Fatal(err)
			}
		case "years":
			if rapid.IntRange(0, 3).Draw(rt, "really") == 0 {
				h.Clock.Add(6 * 366 * 24 * time.Hour)
				if err := h.RunDue(h.Ctx); err != nil {
					rt.Fatal(err)
				}
			}
		}
		found, err := h.CheckMoney(h.Ctx)
		if err != nil {
			rt.Fatal(err)
		}
		for _, f := range found {
			if len(f.Broken) > 0 {
				rt.Fatalf("after %s: %s: %s", cmd, f.Rule, strings.Join(f.Broken, "; "))
			}
		}
	}
	var owed unit.Money
	for _, b := range all {
		v, err := h.BookingByID(context.Background(), b.id)
		if err != nil {
			rt.Fatal(err)
		}
		over := v.Paid - v.Kept - v.Total
		if v.State == shop.LetGo && over != 0 {
			rt.Fatalf("%s was let go and %s stand on it unexplained", v.Ref, over)
		}
		if earned, err := h.BalanceOf(h.Ctx, shop.OwedBooking, int64(b.id)); err != nil || -earned > v.Paid-v.Kept {
			rt.Fatalf("%s: %s owed, %s paid, %s kept, %v", v.Ref, -earned, v.Paid, v.Kept, err)
		} else {
			owed -= earned
		}
	}
	stands(t, h, shop.OwedBooking, owed)
}
