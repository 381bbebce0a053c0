package store_test

import (
	"fmt"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

func needs(list ...string) shop.Answers {
	a := shop.Answers{State: shop.HasNeeds}
	for _, l := range list {
		name, severe := strings.CutSuffix(l, "!")
		a.Needs = append(a.Needs, shop.NewNeed{Allergen: name, Severe: severe})
	}
	return a
}

// TestSevereSesame is scenario S-02.
func TestSevereSesame(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B2", "bacon", "2026-10-17 14:00", seats(9))
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		h.Go("2026-09-10 12:00")
		f := party("B2", "Friedel B.", 6)
		for i := range 3 {
			f.People[i].Needs.State = shop.NoNeeds
		}
		bought(t, h, f)
		h.Go("2026-09-20 12:00")
		o := party("B2", "Oona T.", 2)
		o.People[0].Picks, o.People[1].Picks = []string{"SC"}, []string{"JT"}
		o.People[0].Needs.State, o.People[1].Needs.State = shop.NoNeeds, shop.NoNeeds
		oona := bought(t, h, o)
		h.Go("2026-10-02 12:00")
		send(t, h)
		casper := book(t, h, party("B2", "Casper N.", 1))
		if err := h.SaveNeeds(h.Ctx, shop.Customer("c"), casper.People[0].GuestID, needs("sesame!")); err != nil {
			t.Fatal(err)
		}
		if v := again(t, h, oona); v.People[0].Picks[0].State != shop.PickMade {
			t.Error("somebody who has not paid reopened her pick")
		}
		casper = pay(t, h, casper, shop.PaymentIn{Cents: 95_00}).Booking
		v := again(t, h, oona)
		if v.People[0].Picks[0].State != shop.PickReopened || v.People[1].Picks[0].Code != "JT" {
			t.Errorf("her picks then: %+v", v.People)
		}
		got := send(t, h)
		m := ofKind(got, shop.NoticePickReopened)
		if m == nil || m.ToAddr != "oona@post.example.test" || m.Facts.Until != h.At("2026-10-15 14:00") {
			t.Fatalf("she reads %+v; want a deadline of Thu Oct 15 14:00", m)
		}
		if low := strings.ToLower(m.Notice.Facts); strings.Contains(low, "allerg") || strings.Contains(low, "casper") || strings.Contains(low, "because") {
			t.Errorf("her message says who or why: %s", m.Notice.Facts)
		}
		p, _ := h.ClassPage(h.Ctx, "B2")
		other, _ := h.ClassPage(h.Ctx, "B3")
		for i, j := range p.Jars {
			if j.Away != (j.Code == "SC") || other.Jars[i].Away {
				t.Errorf("jar %s: away from B2 %v, from B3 %v", j.Code, j.Away, other.Jars[i].Away)
			}
		}
		err := h.SavePick(h.Ctx, shop.Customer("o"), v.People[0].GuestID, 1, "SC")
		if e, ok := shop.AsError(err); !ok || !strings.Contains(e.Fields["pick1"], "not on the table that day") {
			t.Errorf("picking it again: %v", err)
		}
		h.Go("2026-10-12 10:00")
		got = send(t, h)
		m = ofKind(got, shop.NoticeNeedsMissing)
		if m == nil || m.ToAddr != "friedel@post.example.test" || len(m.Facts.Lines) != 3 {
			t.Errorf("chased: %+v, want one message to Friedel about three people", m)
		}
		h.Go("2026-10-15 14:00")
		for _, n := range send(t, h) {
			if n.Kind == shop.NoticeNeedsMissing {
				t.Error("chased twice")
			}
		}
		if v := again(t, h, oona); v.People[0].Picks[0].State != shop.OnTheDay {
			t.Errorf("no answer: %s", v.People[0].Picks[0].State)
		}
		if _, err := h.LetGo(h.Ctx, shop.Customer("c"), casper.ID, shop.LeaveIn{}, store.Once{}); err != nil {
			t.Fatal(err)
		}
		if p, _ = h.ClassPage(h.Ctx, "B2"); p.Jars[6].Code != "SC" && p.Jars[6].Away {
			t.Errorf("after he left: %+v", p.Jars)
		}
		for _, j := range p.Jars {
			if j.Away {
				t.Errorf("nobody is in danger any more, yet %s is away", j.Code)
			}
		}
		if m := ofKind(send(t, h), shop.NoticePickReopened); m != nil {
			t.Error("Oona was written to again")
		}
	})
}

// TestPartyOfFour is outcome M3: one pays for four and names three; each has a link, picks
// and answers; one collects; renaming the fourth costs nothing.
func TestPartyOfFour(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		h.Go("2026-09-30 12:00")
		n := party("B3", "Brigid O.", 4)
		n.Collector = "Brigid O."
		n.People[1].Name, n.People[1].Email = "Anna", "anna@post.example.test"
		n.People[2].Name = "Ben"
		b := bought(t, h, n)
		got := send(t, h)
		if words(got) != "booked brigid@post.example.test, guest-named anna@post.example.test" {
			t.Fatalf("went out: %s", words(got))
		}
		if f := got[1].Facts; f.Total != 0 || f.Owes != 0 || f.Paid != 0 || strings.Contains(got[1].Notice.Facts, "38000") {
			t.Errorf("a guest reads a price: %+v", f)
		}
		g, err := h.GuestPage(h.Ctx, b.People[1].Secret)
		if err != nil || g.Name != "Anna" || g.InvitedBy != "Brigid O." {
			t.Fatalf("GuestPage = %+v, %v", g, err)
		}
		for i, code := range []string{"MH", "SC", "PB", "FO"} {
			if err := h.SavePick(h.Ctx, shop.Customer("x"), b.People[i].GuestID, 1, code); err != nil {
				t.Fatal(err)
			}
		}
		if err := h.RenameGuest(h.Ctx, shop.Customer("b"), b.People[3].GuestID, "Clare", "clare@post.example.test", 0, false); err != nil {
			t.Fatal(err)
		}
		if got := words(send(t, h)); got != "guest-named clare@post.example.test" {
			t.Errorf("after naming the fourth went out: %s", got)
		}
		v := again(t, h, b)
		if v.Total != b.Total || v.People[3].Name != "Clare" || v.People[3].Picks[0].Code != "FO" {
			t.Errorf("then: %+v", v)
		}
		if _, err := h.GuestPage(h.Ctx, b.People[3].Secret); err == nil {
			t.Error("the old link of the fourth still works")
		}
		h.Go("2026-10-17 10:00")
		if got := words(send(t, h)); got != "class-soon brigid@post.example.test, class-soon anna@post.example.test, class-soon clare@post.example.test" {
			t.Errorf("seven days before went out: %s", got)
		}
		if err := h.RenameGuest(h.Ctx, shop.Customer("b"), b.People[3].GuestID, "Cl\r\nBcc: x", "", 0, false); err == nil {
			t.Error("a line break in a name was taken")
		}
	})
}

// TestDoor: who came, who did not, and the signature for somebody of 17 (R11, K45).
func TestDoor(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		n := party("D3", "Iwan B.", 2)
		n.People[1].Age = 17
		b := bought(t, h, n)
		anselm := bought(t, h, party("B3", "Anselm P.", 1))
		late := bought(t, h, party("B3", "Hadley Q.", 1))
		if err := h.CheckIn(h.Ctx, nadia, b.People[0].SeatID); err == nil {
			t.Error("checked in weeks before")
		}
		h.Go("2026-10-24 12:40")
		if err := h.MarkMissed(h.Ctx, nadia, anselm.People[0].SeatID); err == nil {
			t.Error("missed a class that has not begun")
		}
		h.Go("2026-10-24 14:00")
		send(t, h)
		if err := h.MarkMissed(h.Ctx, nadia, anselm.People[0].SeatID); err != nil {
			t.Fatal(err)
		}
		if v := again(t, h, anselm); v.State != shop.Missed || v.Class.Taken != 2 {
			t.Errorf("Anselm: %s, %d taken", v.State, v.Class.Taken)
		}
		if err := h.MarkMissed(h.Ctx, nadia, late.People[0].SeatID); err != nil {
			t.Fatal(err)
		}
		if err := h.CheckIn(h.Ctx, nadia, late.People[0].SeatID); err != nil {
			t.Errorf("came late: %v", err)
		}
		if v := again(t, h, late); v.State != shop.Came {
			t.Errorf("the latecomer is %s", v.State)
		}
		h.Go("2026-10-24 17:00")
		told := send(t, h)
		if m := ofKind(told, shop.NoticeMissed); m == nil || m.Facts.Until != h.At("2026-10-27 17:00") {
			t.Errorf("he reads %+v, want until Tue Oct 27 17:00 (R43)", m)
		}
		missed := 0
		for _, m := range told {
			if m.Kind == shop.NoticeMissed {
				missed++
			}
		}
		if missed != 1 {
			t.Errorf("%d were asked for the pick of a missed class; the latecomer was there", missed)
		}
		h.Go("2026-10-25 10:00")
		if err := h.CheckIn(h.Ctx, nadia, anselm.People[0].SeatID); err == nil {
			t.Error("came a day late")
		}
		h.Go("2026-10-29 17:50")
		if err := h.CheckIn(h.Ctx, nadia, b.People[0].SeatID); err != nil {
			t.Fatal(err)
		}
		err := h.CheckIn(h.Ctx, nadia, b.People[1].SeatID)
		if e, ok := shop.AsError(err); !ok || e.Code != "guardian" {
			t.Errorf("17, nothing signed: %v", err)
		}
		if err := h.SignGuardian(h.Ctx, nadia, b.People[1].GuestID); err != nil {
			t.Fatal(err)
		}
		if err := h.CheckIn(h.Ctx, nadia, b.People[1].SeatID); err != nil {
			t.Errorf("17, signed: %v", err)
		}
		if v := again(t, h, b); v.State != shop.Came {
			t.Errorf("the booking is %s", v.State)
		}
		d, err := h.DoorList(h.Ctx, "D3")
		if err != nil || d.Came != 2 || d.Minors != 1 || d.NotTold != 2 {
			t.Errorf("door: %+v, %v", d, err)
		}
		sound(t, h)
	})
}

// One of two missed the class (R43): only the other is thanked for coming, and the missing
// one is asked for a spice instead.
func TestOneOfTwoMissed(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		n := party("B3", "Solveig A.", 2)
		n.People[1].Name, n.People[1].Email = "Eskil", "eskil@post.example.test"
		b := bought(t, h, n)
		h.Go("2026-10-24 13:20")
		send(t, h)
		if err := h.CheckIn(h.Ctx, nadia, b.People[0].SeatID); err != nil {
			t.Fatal(err)
		}
		if err := h.MarkMissed(h.Ctx, nadia, b.People[1].SeatID); err != nil {
			t.Fatal(err)
		}
		h.Go("2026-10-24 18:30")
		if got := words(send(t, h)); got != "missed eskil@post.example.test, class-evening solveig@post.example.test" {
			t.Errorf("told: %s", got)
		}
		sound(t, h)
	})
}

func TestFind(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		n := party("B3", "Solveig A.", 2)
		n.Number, n.PayerPhone = 14, "555-01 4477"
		n.People[1].Name = "Per_100%"
		bought(t, h, n)
		for q, want := range map[string]int{"sol": 1, "SOLV": 1, "K14": 1, "14": 1, "4477": 1, "per_1": 1, "%%": 0, "zz": 0, "__": 0} {
			got, err := h.Find(h.Ctx, q)
			if err != nil || len(got) != want {
				t.Errorf("Find(%q) = %d hits, %v; want %d", q, len(got), err, want)
			}
		}
		if _, err := h.Find(h.Ctx, "s"); err == nil {
			t.Error("one letter finds everybody")
		}
	})
}

// TestRefusals: every wrong answer is named by its field and nothing is taken.
func TestRefusals(t *testing.T) {
	h := storetest.SQLite(t)
	class(t, h, "B3", "bacon", "2026-10-24 13:00")
	class(t, h, "D3", "pig", "2026-10-29 18:00")
	cases := []struct {
		name, field string
		change      func(*shop.NewBooking)
	}{
		{"no seat", "people", func(n *shop.NewBooking) { n.People = nil }},
		{"too many people", "people", func(n *shop.NewBooking) { n.People = make([]shop.NewPerson, 41) }},
		{"no name", "name", func(n *shop.NewBooking) { n.PayerName = "  " }},
		{"line break in a name", "name", func(n *shop.NewBooking) { n.PayerName = "Eve\r\nBcc: all@x.example.test" }},
		{"no address", "email", func(n *shop.NewBooking) { n.PayerEmail = "" }},
		{"host without a dot", "email", func(n *shop.NewBooking) { n.PayerEmail = "a@b" }},
		{"display name", "email", func(n *shop.NewBooking) { n.PayerEmail = "Eve <eve@post.example.test>" }},
		{"comment", "email", func(n *shop.NewBooking) { n.PayerEmail = "eve(x)@post.example.test" }},
		{"line break in an address", "email", func(n *shop.NewBooking) { n.PayerEmail = "eve@post.example.test\nx" }},
		{"guest's address", "p2_email", func(n *shop.NewBooking) { n.People[1].Email = "no" }},
		{"nine at a bacon table", "p2_age", func(n *shop.NewBooking) { n.People[1].Age = 9 }},
		{"five, watching", "p2_age", func(n *shop.NewBooking) { n.People[1] = shop.NewPerson{Seat: shop.WatchSeat, Age: 5} }},
		{"three young, one grown", "people", func(n *shop.NewBooking) {
			for range 2 {
				n.People = append(n.People, shop.NewPerson{Age: 12})
			}
			n.People[1].Age = 12
		}},
		{"two watch one slab", "people", func(n *shop.NewBooking) {
			n.People[1].Seat = shop.WatchSeat
			n.People = append(n.People, shop.NewPerson{Seat: shop.WatchSeat})
		}},
		{"unknown allergen", "p1_needs", func(n *shop.NewBooking) { n.People[0].Needs = needs("moonlight") }},
		{"list of nothing", "p1_needs", func(n *shop.NewBooking) { n.People[0].Needs.State = shop.HasNeeds }},
		{"unknown jar", "p1_pick1", func(n *shop.NewBooking) { n.People[0].Picks = []string{"ZZ"} }},
		{"more picks than slabs", "p1_pick", func(n *shop.NewBooking) { n.People[0].Picks = []string{"PB", "PB"} }},
		{"fifteen at a clinic", "p2_age", func(n *shop.NewBooking) { n.Class, n.People[1].Age = "D3", 15 }},
		{"watching at a clinic", "p2_seat", func(n *shop.NewBooking) { n.Class, n.People[1].Seat = "D3", shop.WatchSeat }},
		{"second slab at a clinic", "p1_second", func(n *shop.NewBooking) { n.Class, n.People[0].Second = "D3", true }},
	}
	for _, c := range cases {
		n := party("B3", "Eve E.", 2)
		c.change(&n)
		_, err := h.Book(h.Ctx, shop.Customer("visitor"), n, store.Once{})
		if e, ok := shop.AsError(err); !ok || e.Kind != shop.Invalid || e.Fields[c.field] == "" {
			t.Errorf("%s: %v; want field %q named", c.name, err, c.field)
		}
	}
	n := party("B3", "Eve E.", 2)
	n.PayerEmail, n.People[1].Age, n.Note = "x", 3, "a\nb"
	_, err := h.Book(h.Ctx, shop.Customer("visitor"), n, store.Once{})
	if e, _ := shop.AsError(err); e == nil || len(e.Fields) != 3 {
		t.Errorf("three wrong answers: %v", err)
	}
	h.Go("2026-10-24 13:00")
	if _, err := h.Book(h.Ctx, shop.Customer("v"), party("B3", "Late L.", 1), store.Once{}); err == nil || !strings.Contains(err.Error(), "already begun") {
		t.Errorf("a class that has begun: %v", err)
	}
	if _, err := h.Book(h.Ctx, shop.Customer("v"), party("ZZ", "Lost L.", 1), store.Once{}); err == nil {
		t.Error("a class that is not there was booked")
	}
	if p, _ := h.ClassPage(h.Ctx, "B3"); p.Taken != 0 {
		t.Errorf("refused bookings took %d seats", p.Taken)
	}
	sound(t, h)
}

// TestAnswersKeptAndErased is R14 and outcome W9: erased 90 days after the class or the
// last slab fetched, unless the person ticked "remember"; then known the next time.
func TestAnswersKeptAndErased(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		class(t, h, "D9", "pig", "2027-03-04 18:00")
		n := party("D3", "Petra M.", 3)
		n.People[0].Needs = needs("sesame!")
		n.People[0].Needs.Remember = true
		n.People[1].Name, n.People[1].Needs = "Bo", needs("milk")
		b := bought(t, h, n)
		told := func() string {
			v := again(t, h, b)
			return fmt.Sprint(v.People[0].Told, v.People[1].Told)
		}
		h.Go("2027-01-27 09:59") // 90 days after Oct 29, a minute before ten
		due(t, h)
		if told() != "true true" {
			t.Fatalf("before the day: %s", told())
		}
		if at, err := h.NextDue(h.Ctx); err != nil || at > h.At("2027-01-27 10:00") {
			t.Errorf("NextDue = %s, %v", at.Show(h.Loc), err)
		}
		h.Go("2027-01-27 10:00")
		due(t, h)
		if told() != "true false" {
			t.Fatalf("on the day: %s; Petra let us remember, Bo did not", told())
		}
		if g, err := h.GuestByID(h.Ctx, b.People[1].GuestID); err != nil || len(g.Needs) != 0 {
			t.Errorf("Bo's answers are still there: %+v, %v", g, err)
		}
		again := party("D9", "Petra M.", 2)
		again.PayerEmail = strings.ToUpper(again.PayerEmail) // as a telephone may write it
		v := bought(t, h, again)
		g, err := h.GuestByID(h.Ctx, v.People[0].GuestID)
		if err != nil || len(g.Needs) != 1 || g.Needs[0].Allergen != "sesame" || !g.Needs[0].Severe || v.People[1].Told {
			t.Errorf("the next time: %+v, %v", g, err)
		}
		if other := bought(t, h, func() shop.NewBooking {
			n := party("D9", "Petra M.", 1)
			n.People[0].Name = "Ludo"
			return n
		}()); other.People[0].Told {
			t.Error("somebody else at her address got her answers")
		}
	})
}

// A new name is a new person: whoever takes a place has told nothing yet. The same name
// written longer is the same person.
func TestRenamedIsNotTold(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		n := party("B3", "Brigid O.", 2)
		n.People[1].Name, n.People[1].Needs = "Ben", needs("sesame!")
		b := bought(t, h, n)
		away := func() (n int) {
			p, err := h.ClassPage(h.Ctx, "B3")
			if err != nil {
				t.Fatal(err)
			}
			for _, j := range p.Jars {
				if j.Away {
					n++
				}
			}
			return n
		}
		rename := func(name string) *store.BookingView {
			if err := h.RenameGuest(h.Ctx, shop.Customer("b"), b.People[1].GuestID, name, "", 0, false); err != nil {
				t.Fatal(err)
			}
			return again(t, h, b)
		}
		if v := rename("Ben Quill"); !v.People[1].Told || away() != 1 {
			t.Errorf("a longer name: told %v, %d jars away", v.People[1].Told, away())
		}
		if v := rename("Zuzana"); v.People[1].Told || away() != 0 {
			t.Errorf("somebody else: told %v, %d jars away", v.People[1].Told, away())
		}
	})
}

// TestSaveGuestIsOne: one refused answer and none of them is kept.
func TestSaveGuestIsOne(t *testing.T) {
	h := storetest.SQLite(t)
	class(t, h, "B3", "bacon", "2026-10-24 13:00")
	b := bought(t, h, party("B3", "Brigid O.", 2))
	id := b.People[1].GuestID
	err := h.SaveGuest(h.Ctx, shop.Customer("g"), id, shop.GuestAnswers{Name: "Clare", Answers: needs("sesame!"), Picks: map[int]string{1: "SC"}})
	if e, ok := shop.AsError(err); !ok || e.Fields["pick1"] == "" {
		t.Fatalf("sesame severe and the sesame jar: %v", err)
	}
	if v := again(t, h, b); v.People[1].Name != "" || v.People[1].Told {
		t.Errorf("half of it was kept: %+v", v.People[1])
	}
	if err := h.SaveGuest(h.Ctx, shop.Customer("g"), id, shop.GuestAnswers{Name: "Clare", Answers: needs("sesame!"), Picks: map[int]string{1: "PB"}}); err != nil {
		t.Fatal(err)
	}
	if err := h.SaveGuest(h.Ctx, shop.Customer("g"), id, shop.GuestAnswers{Name: "Clare O."}); err != nil {
		t.Fatal(err)
	}
	if v := again(t, h, b); v.People[1].Name != "Clare O." || !v.People[1].Told || v.People[1].Picks[0].Code != "PB" {
		t.Errorf("then: %+v", v.People[1])
	}
}

// TestOneIsHereTheOtherLeaves: who came keeps the seat and its part of the money.
func TestOneIsHereTheOtherLeaves(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		b := bought(t, h, party("B3", "Anselm P.", 2))
		h.Go("2026-10-24 12:40")
		if err := h.CheckIn(h.Ctx, nadia, b.People[0].SeatID); err != nil {
			t.Fatal(err)
		}
		v, err := h.LetGo(h.Ctx, nadia, b.ID, shop.LeaveIn{Kinder: true, Reason: "fell ill on the way", Choice: "money"}, store.Once{})
		if err != nil || v.State != shop.Came || v.Total != b.Total/2 || v.Paid != b.Paid/2 || v.Owes != 0 {
			t.Errorf("%+v, %v", v, err)
		}
		if broken := brokenRules(t, h); len(broken) > 0 {
			t.Error(broken)
		}
		if err := h.CallOff(h.Ctx, storetest.Odile, "B3", "a burst pipe"); err != nil {
			t.Fatal(err)
		}
		v = again(t, h, b)
		if v.State != shop.SeatOff || v.AnswerUntil == 0 || ofKind(send(t, h), shop.NoticeClassOff) == nil {
			t.Errorf("called off when one had come: %s, answer until %v", v.State, v.AnswerUntil)
		}
		if broken := brokenRules(t, h); len(broken) > 0 {
			t.Error(broken)
		}
	})
}
