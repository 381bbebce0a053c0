package store_test

import (
	"errors"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// sound holds the database against everything that must always be true.
func sound(t testing.TB, h *storetest.House) {
	t.Helper()
	bad, err := h.Check(h.Ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range bad {
		for _, line := range f.Broken {
			t.Errorf("not sound: %s: %s", f.Rule, line)
		}
	}
}

func ofKind(m []message, kind string) *message {
	for i := range m {
		if m[i].Kind == kind {
			return &m[i]
		}
	}
	return nil
}

// TestTwoOfSixDropOut is scenario S-15.
func TestTwoOfSixDropOut(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		h.Go("2026-09-12 12:00")
		n := party("D3", "Cordelia F.", 6)
		n.People[4].Needs = shop.Answers{State: shop.HasNeeds, Needs: []shop.NewNeed{{Allergen: "milk"}}}
		k44 := bought(t, h, n)
		if k44.Total != 990_00 || k44.Paid != 396_00 || k44.BalanceDueOn != unit.DayOf(2026, 10, 15) || k44.DueNow != 594_00 {
			t.Fatalf("K44: %v total, %v paid, %v by %v; want $990, $396, $594 by Oct 15", k44.Total, k44.Paid, k44.DueNow, k44.BalanceDueOn)
		}
		h.Go("2026-10-12 10:00")
		if m := ofKind(send(t, h), shop.NoticeBalanceDue); m == nil || m.Facts.Owes != 594_00 {
			t.Errorf("three days before the rest is due no reminder with $594.00 went out")
		}
		k44 = pay(t, h, k44, shop.PaymentIn{Cents: 594_00}).Booking
		bought(t, h, party("D3", "Iwan B.", 2))
		bought(t, h, party("D3", "Pilar G.", 2))
		h.Go("2026-10-20 12:00")
		send(t, h)
		q, err := h.LeaveQuote(h.Ctx, k44.ID)
		if err != nil || q.Seats[4].Text != "$82.50 back, or $165.00 credit" {
			t.Fatalf("shown before confirming: %q, %v", q.Seats[4].Text, err)
		}
		gone := []shop.SeatLeave{{Seat: k44.People[4].SeatID, Choice: "money"}, {Seat: k44.People[5].SeatID, Choice: "credit"}}
		_, err = h.LetGo(h.Ctx, shop.Customer("Cordelia F."), k44.ID, shop.LeaveIn{Seats: []shop.SeatLeave{{Seat: k44.People[4].SeatID}}}, store.Once{})
		if e, ok := shop.AsError(err); !ok || e.Fields["choice"] == "" {
			t.Errorf("with no choice made: %v", err)
		}
		link := k44.People[4].Secret
		v, err := h.LetGo(h.Ctx, shop.Customer("Cordelia F."), k44.ID, shop.LeaveIn{Seats: gone}, store.Once{})
		if err != nil {
			t.Fatal(err)
		}
		// In: 990. Back: 82.50 money, 165 credit. The shop keeps 82.50; four seats stand at 660.
		if v.Paid != 742_50 || v.Kept != 82_50 || v.Total != 660_00 || v.Owes != 0 || v.State != shop.Firm || len(v.People) != 4 || v.Class.Taken != 8 {
			t.Errorf("then: paid %v, kept %v, total %v, owes %v, %s, %d people, D3 %d", v.Paid, v.Kept, v.Total, v.Owes, v.State, len(v.People), v.Class.Taken)
		}
		got := send(t, h)
		letGo, credit := ofKind(got, shop.NoticeLetGo), ofKind(got, shop.NoticeCredit)
		if letGo == nil || letGo.Facts.Back != 82_50 || letGo.Facts.Invite.Cancel {
			t.Errorf("the receipt says %+v", letGo)
		}
		if credit == nil || credit.Facts.Credit != 165_00 || credit.Facts.DueOn != unit.DayOf(2028, 10, 20) {
			t.Errorf("the credit says %+v, want $165.00 until 2028-10-20", credit)
		}
		if _, err := h.GuestPage(h.Ctx, link); err == nil {
			t.Error("the link of somebody who left still works")
		}
		h.Go("2026-10-24 12:00")
		q, err = h.LeaveQuote(h.Ctx, k44.ID)
		if err != nil || q.Seats[3].Text != "$0.00 back; $165.00 credit if the seat is sold again" {
			t.Errorf("a third friend five days before: %q, %v", q.Seats[3].Text, err)
		}
		sound(t, h)
	})
}

// TestThePresent is scenario S-13, with the rules of R7 and R8.
func TestThePresent(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		h.Go("2026-10-12 12:00")
		class(t, h, "B9", "bacon", "2026-12-12 14:00")
		class(t, h, "D7", "pig", "2026-12-20 18:00")
		v, err := h.SellVoucher(h.Ctx, shop.Customer("Ulla"), shop.NewVoucher{Kind: "seat", ClassKind: "bacon", BuyerName: "Ulla", BuyerEmail: "ulla@post.example.test",
			ReceiverName: "Father", ReceiverEmail: "father@post.example.test", SendOn: unit.DayOf(2026, 11, 25)}, shop.PaymentIn{Cents: 95_00, Method: "till", Key: "v"})
		if err != nil || v.ExpiresOn != unit.DayOf(2031, 10, 12) {
			t.Fatalf("SellVoucher = %+v, %v", v, err)
		}
		if got := words(send(t, h)); got != "voucher-sold ulla@post.example.test" {
			t.Errorf("on the day of sale went out: %s", got)
		}
		h.Go("2026-11-25 09:59")
		if got := words(send(t, h)); got != "" {
			t.Errorf("before the giver's hour went out: %s", got)
		}
		h.Go("2026-11-25 10:00")
		got := send(t, h)
		if words(got) != "voucher-gift father@post.example.test" || got[0].Facts.Code == "" || got[0].Facts.Total != 0 || got[0].Facts.From != "Ulla" {
			t.Fatalf("to the father: %s %+v", words(got), got)
		}
		code := got[0].Facts.Code
		b := book(t, h, party("B9", "Father F.", 1))
		if b.Total != 105_00 {
			t.Errorf("the seat costs %v", b.Total)
		}
		b = pay(t, h, b, shop.PaymentIn{Key: "f1", Vouchers: []string{code}}).Booking
		if b.State != shop.Firm || b.Owes != 0 || b.Paid != 105_00 {
			t.Errorf("a bacon seat with the voucher: %s, owes %v", b.State, b.Owes)
		}
		if s, err := h.VoucherByCode(h.Ctx, strings.ToUpper(code)); err != nil || !s.Used || s.Left != 0 {
			t.Errorf("the giver sees %+v, %v", s, err)
		}
		other := book(t, h, party("B9", "Cheat C.", 1))
		if _, err := h.Pay(h.Ctx, shop.Customer("c"), other.ID, shop.PaymentIn{Key: "c1", Vouchers: []string{code}}); err == nil {
			t.Error("the same voucher paid twice")
		}
		// 17 days before: the voucher comes back whole and pays towards a pig clinic.
		if _, err := h.LetGo(h.Ctx, shop.Customer("f"), b.ID, shop.LeaveIn{}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		h.Go("2026-11-30 12:00")
		d := book(t, h, party("D7", "Father F.", 1))
		if _, err := h.Pay(h.Ctx, shop.Customer("f"), d.ID, shop.PaymentIn{Cents: 69_00, Method: "till", Key: "d0", Vouchers: []string{code}}); err == nil {
			t.Error("$69.00 and the voucher pay for $165.00")
		}
		d = pay(t, h, d, shop.PaymentIn{Cents: 70_00, Vouchers: []string{code}}).Booking
		if d.State != shop.Firm || d.Paid != 165_00 {
			t.Fatalf("$70.00 and the voucher: %s, paid %v", d.State, d.Paid)
		}
		send(t, h)
		if _, err := h.LetGo(h.Ctx, shop.Customer("f"), d.ID, shop.LeaveIn{}, store.Once{}); err != nil { // 20 days before
			t.Fatal(err)
		}
		if m := ofKind(send(t, h), shop.NoticeLetGo); m == nil || m.Facts.Back != 70_00 {
			t.Errorf("20 days before he reads %+v, want $70.00 back", m)
		}
		if s, _ := h.VoucherByCode(h.Ctx, code); s.Left != 95_00 || s.ExpiresOn != unit.DayOf(2031, 10, 12) {
			t.Errorf("his voucher then: %+v; want whole, until 2031-10-12", s)
		}
		sound(t, h)
	})
}

// TestCalledOff is R5 with the figures of K42 and K43: D2 is called off on Aug 30.
func TestCalledOff(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D2", "venison", "2026-10-22 18:00")
		class(t, h, "D8", "venison", "2026-12-03 18:00")
		h.Go("2026-08-14 12:00")
		k42 := bought(t, h, party("D2", "Noor Z.", 2))
		k43 := bought(t, h, party("D2", "Ansgar Y.", 1))
		mover := bought(t, h, party("D2", "Mover M.", 1))
		silent := bought(t, h, party("D2", "Silent S.", 1))
		held := book(t, h, party("D2", "Held H.", 1))
		h.Go("2026-08-14 12:10")
		send(t, h)
		if err := h.CallOff(h.Ctx, storetest.Odile, "D2", "too few people for a whole animal"); err != nil {
			t.Fatal(err)
		}
		got := send(t, h)
		m := ofKind(got, shop.NoticeClassOff)
		if m == nil || m.Facts.Until != h.At("2026-08-21 12:10") || !m.Facts.Invite.Cancel {
			t.Fatalf("they read %+v", m)
		}
		if v := again(t, h, held); v.State != shop.SeatOff || v.Class.Taken != 0 {
			t.Errorf("seats somebody was paying for: %s; %d taken", v.State, v.Class.Taken)
		}
		answer := func(b *store.BookingView, choice, to string) *store.BookingView {
			v, err := h.Answer(h.Ctx, shop.Customer(b.PayerName), b.ID, choice, to)
			if err != nil {
				t.Fatalf("Answer(%s) = %v", choice, err)
			}
			return v
		}
		if v := answer(k42, shop.AnswerMoney, ""); v.Paid != 0 || v.Owes != 0 {
			t.Errorf("money: %+v", v)
		}
		if v := answer(k43, shop.AnswerCredit, ""); v.Paid != 0 {
			t.Errorf("credit: %v still paid", v.Paid)
		}
		if _, err := h.Answer(h.Ctx, shop.Customer("x"), k43.ID, shop.AnswerMoney, ""); !errors.Is(err, shop.ErrMoved) {
			t.Errorf("answering twice: %v", err)
		}
		if v := answer(mover, shop.AnswerMove, "D8"); v.State != shop.Firm || v.Class.Code != "D8" || v.Paid != 180_00 || v.Owes != 0 || v.Class.Taken != 1 {
			t.Errorf("a move without cost: %+v", v)
		}
		got = send(t, h)
		if m := ofKind(got, shop.NoticeLetGo); m == nil || m.Facts.Back != 360_00 {
			t.Errorf("K42 reads %+v, want $360.00 back", m)
		}
		if m := ofKind(got, shop.NoticeCredit); m == nil || m.Facts.Credit != 198_00 {
			t.Errorf("K43 reads %+v, want $198.00, 110 %% of $180.00", m)
		}
		h.Go("2026-08-21 12:10")
		due(t, h)
		if v := again(t, h, silent); v.Paid != 0 || v.AnswerUntil != 0 {
			t.Errorf("silence for seven days: %v still paid", v.Paid)
		}
		sound(t, h)
	})
}

// TestMove is R6 with K27: B7 to B5 after the price rise keeps $95.
func TestMove(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B5", "bacon", "2026-11-07 14:00")
		class(t, h, "B7", "bacon", "2026-11-21 15:30")
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		class(t, h, "L1", "lamb", "2026-11-12 18:00")
		h.Go("2026-10-18 12:00")
		n := party("B7", "Benedek H.", 2)
		n.People[0].Picks, n.People[1].Picks = []string{"PB"}, []string{"FO"}
		k27 := bought(t, h, n)
		h.Go("2026-10-20 12:00")
		send(t, h)
		v, err := h.MoveBooking(h.Ctx, shop.Customer("b"), k27.ID, "B5", store.Once{})
		if err != nil || v.Total != 190_00 || v.Owes != 0 || v.Class.Code != "B5" || v.Class.Taken != 2 || v.CalendarUID != k27.CalendarUID || v.Sequence <= k27.Sequence {
			t.Fatalf("MoveBooking = %+v, %v", v, err)
		}
		if v.People[1].Picks[0].Code != "FO" || v.ReadyAbout.Show() != "Sat Nov 21" {
			t.Errorf("picks and date went astray: %+v, ready %s", v.People[1].Picks, v.ReadyAbout.Show())
		}
		if p, _ := h.ClassPage(h.Ctx, "B7"); p.Taken != 0 {
			t.Errorf("B7 still has %d taken", p.Taken)
		}
		if m := ofKind(send(t, h), shop.NoticeClassMoved); m == nil || m.Facts.Invite.UID != k27.CalendarUID {
			t.Errorf("told: %+v", m)
		}
		// To another kind the difference is owed, or credited.
		if v, err = h.MoveBooking(h.Ctx, shop.Customer("b"), k27.ID, "L1", store.Once{}); err != nil || v.Total != 300_00 || v.Owes != 110_00 || v.Slabs != 0 {
			t.Fatalf("to a lamb clinic: %+v, %v", v, err)
		}
		pay(t, h, v, shop.PaymentIn{Cents: 110_00})
		send(t, h)
		if v, err = h.MoveBooking(h.Ctx, shop.Customer("b"), k27.ID, "B5", store.Once{}); err != nil || v.Total != 210_00 || v.Paid != 210_00 {
			t.Fatalf("back to bacon at today's price: %+v, %v", v, err)
		}
		if m := ofKind(send(t, h), shop.NoticeCredit); m == nil || m.Facts.Credit != 90_00 {
			t.Errorf("the difference: %+v, want $90.00 credit", m)
		}
		h.Go("2026-11-01 12:00")
		if _, err := h.MoveBooking(h.Ctx, shop.Customer("b"), k27.ID, "B7", store.Once{}); err == nil {
			t.Error("six days before, a move was free")
		}
		sound(t, h)
	})
}

// TestShopMovesClass is the money part of S-11: Leocadia accepts, Barnaby does not.
func TestShopMovesClass(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D6", "pig", "2026-11-19 18:00")
		h.Go("2026-09-15 12:00")
		k52 := bought(t, h, party("D6", "Leocadia V.", 6))
		k53 := bought(t, h, party("D6", "Barnaby E.", 3))
		h.Go("2026-10-05 12:00")
		send(t, h)
		if err := h.MoveClass(h.Ctx, storetest.Odile, "D6", h.At("2026-11-18 18:00"), "no kill that week"); err != nil {
			t.Fatal(err)
		}
		if got := words(send(t, h)); got != "class-moved leocadia@post.example.test, class-moved barnaby@post.example.test" {
			t.Errorf("told: %s", got)
		}
		v, err := h.Answer(h.Ctx, shop.Customer("l"), k52.ID, shop.AnswerAccept, "")
		if err != nil || v.BalanceDueOn != unit.DayOf(2026, 11, 4) || v.DueNow != 594_00 || v.Paid != 396_00 || v.CalendarUID != k52.CalendarUID {
			t.Errorf("K52 accepts: %+v, %v; want $594.00 due Wed Nov 4", v, err)
		}
		if v, err = h.Answer(h.Ctx, shop.Customer("b"), k53.ID, shop.AnswerMoney, ""); err != nil || v.Paid != 0 || v.Class.Taken != 6 || v.State != shop.SeatOff {
			t.Errorf("K53 takes the money: %+v, %v", v, err)
		}
		got := send(t, h)
		if m := ofKind(got, shop.NoticeLetGo); m == nil || m.Facts.Back != 495_00 || !m.Facts.Invite.Cancel {
			t.Errorf("K53 reads %+v, want $495.00 and the entry cancelled", m)
		}
		h.Go("2026-11-11 10:00")
		if got := words(send(t, h)); !strings.Contains(got, "class-soon leocadia@post.example.test") || strings.Contains(got, "barnaby") {
			t.Errorf("seven days before went out: %s", got)
		}
		sound(t, h)
	})
}

// TestPrivateParties are K18 ($880 flat for 8), and K54 with W5: 24 booked at $48, $300
// paid, 21 in the end: $708.00 left.
func TestPrivateParties(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		h.Go("2026-08-25 12:00")
		class(t, h, "P1", "grazing", "2026-11-06 19:00", func(c *shop.NewClass) { c.Private = true })
		class(t, h, "P2", "bacon", "2026-10-24 17:30", seats(8), func(c *shop.NewClass) { c.Private, c.FlatCents = true, 880_00 })
		if _, err := h.ClassPage(h.Ctx, "P2"); err == nil {
			t.Error("a private class stands open on the web")
		}
		if _, err := h.Book(h.Ctx, shop.Customer("x"), party("P2", "Stranger S.", 1), store.Once{}); !errors.Is(err, shop.ErrClassClosed) {
			t.Errorf("a stranger books a private class: %v", err)
		}
		private := func(class, name string, n int) *store.BookingView {
			p := party(class, name, n)
			p.Counter = true
			v, err := h.Book(h.Ctx, nadia, p, store.Once{})
			if err != nil {
				t.Fatal(err)
			}
			paid, err := h.Pay(h.Ctx, nadia, v.ID, shop.PaymentIn{Cents: v.DueNow, Method: "card", Key: "deposit " + class})
			if err != nil {
				t.Fatal(err)
			}
			return paid.Booking
		}
		k18 := private("P2", "Dunmore family", 8)
		if k18.Total != 880_00 || k18.Paid != 300_00 || k18.BalanceDueOn != unit.DayOf(2026, 10, 17) {
			t.Errorf("K18: %v, paid %v, rest by %v", k18.Total, k18.Paid, k18.BalanceDueOn)
		}
		k54 := private("P1", "Choir of the crossing", 24)
		h.Go("2026-10-30 12:00")
		if _, err := h.FinalCount(h.Ctx, nadia, k54.ID, 20); err == nil {
			t.Error("20 of 24 is more than 15 % fewer")
		}
		v, err := h.FinalCount(h.Ctx, nadia, k54.ID, 21)
		if err != nil || v.Owes != 708_00 || v.Places != 21 || v.Class.Taken != 21 {
			t.Errorf("21 in the end: owes %v, %d places, %v", v.Owes, v.Places, err)
		}
		sound(t, h)
	})
}

// TestMoneyVoucherAndCredit pays with both and looks where the give-back goes: money,
// then credit, then the voucher (R8; K37's $100 voucher and $280).
func TestMoneyVoucherAndCredit(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B8", "bacon", "2026-11-21 14:00")
		class(t, h, "D1", "pig", "2026-10-22 18:00")
		h.Go("2026-10-12 12:00")
		old := bought(t, h, party("D1", "Florian D.", 1))
		if _, err := h.LetGo(h.Ctx, shop.Customer("f"), old.ID, shop.LeaveIn{Choice: "credit"}, store.Once{}); err != nil { // ten days before
			t.Fatal(err)
		}
		credit := ofKind(send(t, h), shop.NoticeCredit)
		if credit == nil || credit.Facts.Credit != 165_00 {
			t.Fatalf("credit: %+v", credit)
		}
		v, err := h.SellVoucher(h.Ctx, nadia, shop.NewVoucher{Kind: "money", Cents: 100_00, BuyerName: "Aunt"}, shop.PaymentIn{Cents: 100_00, Method: "cash", Key: "v"})
		if err != nil {
			t.Fatal(err)
		}
		k37 := book(t, h, party("B8", "Florian D.", 4))
		k37 = pay(t, h, k37, shop.PaymentIn{Cents: 115_00, Vouchers: []string{v.Code}, Credits: []string{credit.Facts.Code}}).Booking
		if k37.State != shop.Firm || k37.Paid != 380_00 {
			t.Fatalf("K37: %s, %v", k37.State, k37.Paid)
		}
		send(t, h)
		left := []shop.SeatLeave{{Seat: k37.People[2].SeatID}, {Seat: k37.People[3].SeatID}}
		if _, err := h.LetGo(h.Ctx, shop.Customer("f"), k37.ID, shop.LeaveIn{Seats: left}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		// $190.00 back: $115.00 money, then $75.00 of the credit; the voucher stays spent.
		if m := ofKind(send(t, h), shop.NoticeLetGo); m == nil || m.Facts.Back != 115_00 {
			t.Errorf("money back: %+v, want $115.00", m)
		}
		if c, err := h.Credit(h.Ctx, shop.CreditID(credit.SubjectID)); err != nil || c.LeftCents != 75_00 {
			t.Errorf("the credit has %v left, want $75.00", c.LeftCents)
		}
		if s, _ := h.VoucherByCode(h.Ctx, v.Code); s.Left != 0 {
			t.Errorf("the voucher has %v left", s.Left)
		}
		if _, err := h.LetGo(h.Ctx, shop.Customer("f"), k37.ID, shop.LeaveIn{}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		if s, _ := h.VoucherByCode(h.Ctx, v.Code); s.Left != 100_00 {
			t.Errorf("all left: the voucher has %v, want $100.00", s.Left)
		}
		sound(t, h)
	})
}
