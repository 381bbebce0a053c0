package store_test

import (
	"fmt"
	"strings"
	"testing"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

func need(allergen string, severe bool, words string) shop.Answers {
	return shop.Answers{State: shop.HasNeeds, Needs: []shop.NewNeed{{Allergen: allergen, Severe: severe, Words: words}}}
}

// diners is a party for a clinic, one person for each answer.
func diners(class string, number int, payer string, told ...shop.Answers) shop.NewBooking {
	n := party(class, payer, len(told))
	n.Number, n.PayerPhone, n.Note = number, "555-0139", "pays the rest in cash"
	for i := range n.People {
		n.People[i].Name, n.People[i].Needs = fmt.Sprintf("%s %d", strings.Fields(payer)[0], i+1), told[i]
	}
	return n
}

var none = shop.Answers{State: shop.NoNeeds}

// layD1 sells the pig clinic D1 of the invented shop: K39, K40, K41 of its story.
func layD1(t testing.TB, h *storetest.House) (aurel, mirabel, stellan *store.BookingView) {
	t.Helper()
	class(t, h, "D1", "pig", "2026-10-15 18:00")
	h.Go("2026-09-21 12:00")
	aurel = bought(t, h, diners("D1", 39, "Aurel C.", none, need("wheat", true, "coeliac"), none, none))
	mirabel = bought(t, h, diners("D1", 40, "Mirabel I.", need("other", false, "vegetarian"), need("other", false, "pregnant")))
	stellan = bought(t, h, diners("D1", 41, "Stellan U.", none, shop.Answers{}))
	return aurel, mirabel, stellan
}

func tableSheet(t testing.TB, h *storetest.House, code string) *store.TableSheet {
	t.Helper()
	s, err := h.TableSheet(h.Ctx, code)
	if err != nil {
		t.Fatalf("TableSheet(%s) = %v", code, err)
	}
	return s
}

// TestTableSheet is outcome M4: D1, 8 people: 1 vegetarian, 1 pregnant, 1 wheat (coeliac),
// 4 none, 1 not told; the total is 8. Meat by hand: 8 × 6 oz = 48 oz cooked; pork loin
// loses 26.3 % ("Experimental Cookery", table of average losses): 48 ÷ 0.737 = 65.13 oz
// = 4.07 lb.
func TestTableSheet(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layD1(t, h)
		s := tableSheet(t, h, "D1")
		want := "1 wheat (coeliac), severe · 1 pregnant · 1 vegetarian · 4 none · 1 not told · 8 in all"
		if got := s.Sure.String(); got != want {
			t.Errorf("sheet reads %s\nwant       %s", got, want)
		}
		if s.Heads != 8 || s.Held != 0 || s.NotTold != 1 || s.Severe != 1 || s.Maybe.Heads != 0 || s.All.String() != want || s.Frozen || len(s.Changes) != 0 {
			t.Errorf("%+v", s.Dinner)
		}
		var ask []string
		for i, p := range s.People {
			if p.Place != i+1 || p.Ask == (p.None || len(p.Needs) > 0) {
				t.Errorf("%+v has not exactly one answer", p)
			}
			if p.Ask {
				ask = append(ask, p.Booking+" "+p.Name)
			}
		}
		if len(s.People) != 8 || strings.Join(ask, ", ") != "K41 Stellan 2" {
			t.Errorf("%d people, ask %v", len(s.People), ask)
		}
		if p := s.People[1]; p.Booking != "K39" || len(p.Needs) != 1 || p.Needs[0].String() != "wheat (coeliac), severe" {
			t.Errorf("place 2: %+v", p)
		}
		if s.Buy == nil || s.Buy.Raw.LB() != "4.07 lb" || s.Buy.Name != "boneless pork loin" || s.Buy.Guests != 8 {
			t.Errorf("buy %+v", s.Buy)
		}
		for _, secret := range []string{"example.test", "555-0139", "cash", "$", "660", "165"} { // mail, phone, note, money
			if strings.Contains(fmt.Sprintf("%+v", *s), secret) {
				t.Errorf("the kitchen is shown %q", secret)
			}
		}
	})
}

// Only firm seats, and people already here, surely come (job of the sheet: 10 or 12?);
// held and offered ones stand apart; gone ones are not counted.
func TestTableSheetHeldApart(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		_, mirabel, stellan := layD1(t, h)
		book(t, h, diners("D1", 60, "Bo R.", need("milk", true, ""), shop.Answers{}))
		s := tableSheet(t, h, "D1")
		if s.Heads != 8 || s.Held != 2 || s.NotTold != 2 || s.Severe != 2 || s.Sure.NotTold != 1 || s.Maybe.String() != "1 milk, severe · 0 none · 1 not told · 2 in all" {
			t.Errorf("with a hold: %d and %d heads, %d not told; %s", s.Heads, s.Held, s.NotTold, s.Maybe)
		}
		if s.Buy.Guests != 10 {
			t.Errorf("meat for %d, want 10: held seats may yet come", s.Buy.Guests)
		}
		if got := fmt.Sprint(s.All.Severe()); got != "[milk wheat]" {
			t.Errorf("kept off the table: %s", got)
		}
		h.Go("2026-09-21 12:40") // 20 minutes online, no payment begun (R3)
		due(t, h)
		if s := tableSheet(t, h, "D1"); s.Heads != 8 || s.Held != 0 || s.Severe != 1 {
			t.Errorf("after the hold ended: %d and %d", s.Heads, s.Held)
		}
		// One of a party leaves; then the evening comes: one is missed, one is here.
		var in shop.LeaveIn
		in.Seats = []shop.SeatLeave{{Seat: mirabel.People[1].SeatID}}
		in.Choice = "money"
		if _, err := h.LetGo(h.Ctx, nadia, mirabel.ID, in, store.Once{}); err != nil {
			t.Fatal(err)
		}
		if s := tableSheet(t, h, "D1"); s.Heads != 7 || strings.Contains(s.Sure.String(), "pregnant") {
			t.Errorf("after one left: %s", s.Sure)
		}
		h.Go("2026-10-15 18:10")
		if err := h.MarkMissed(h.Ctx, nadia, stellan.People[0].SeatID); err != nil {
			t.Fatal(err)
		}
		if err := h.CheckIn(h.Ctx, nadia, stellan.People[1].SeatID); err != nil {
			t.Fatal(err)
		}
		if s := tableSheet(t, h, "D1"); s.Heads != 6 || s.NotTold != 1 {
			t.Errorf("at the door: %s", s.Sure)
		}
	})
}

// The sheet freezes three days out (Thu Oct 15: from Mon Oct 12 on); what comes later
// stands in a box of its own, without what was answered, money or addresses.
func TestTableSheetFreezes(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		_, mirabel, stellan := layD1(t, h)
		h.Go("2026-10-11 23:59")
		if err := h.SaveNeeds(h.Ctx, nadia, mirabel.People[0].GuestID, need("other", false, "vegan")); err != nil {
			t.Fatal(err)
		}
		before := tableSheet(t, h, "D1")
		if before.FreezesAt != h.At("2026-10-12 00:00") || before.Frozen || len(before.Changes) != 0 {
			t.Errorf("freezes %v, frozen %v, %v", before.FreezesAt.Show(h.Loc), before.Frozen, before.Changes)
		}
		h.Go("2026-10-13 09:15")
		if s := tableSheet(t, h, "D1"); !s.Frozen || len(s.Changes) != 0 || s.Version != before.Version {
			t.Errorf("nothing happened since: %+v, version %d then %d", s.Changes, before.Version, s.Version)
		}
		if err := h.SaveNeeds(h.Ctx, nadia, stellan.People[1].GuestID, need("mustard", false, "")); err != nil {
			t.Fatal(err)
		}
		h.Go("2026-10-13 10:00")
		bought(t, h, diners("D1", 61, "Late L.", none))
		s := tableSheet(t, h, "D1")
		var got []string
		for _, c := range s.Changes {
			got = append(got, strings.TrimSpace(c.At.Show(h.Loc)+" "+c.Booking+" "+c.Name+": "+c.What))
		}
		want := "Tue Oct 13, 09:15 K41 Stellan 2: answered about food\n" +
			"Tue Oct 13, 10:00 K61 : seats taken, held for now\n" +
			"Tue Oct 13, 10:00 K61 : seats are firm"
		if strings.Join(got, "\n") != want {
			t.Errorf("changes:\n%s\nwant:\n%s", strings.Join(got, "\n"), want)
		}
		if s.Version <= before.Version || s.Heads != 9 || s.NotTold != 0 {
			t.Errorf("version %d then %d, %s", before.Version, s.Version, s.Sure)
		}
	})
}

// A class that moves, and a party that moves to another class, say from where to where.
func TestTableSheetSaysWhatMoved(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		aurel, _, _ := layD1(t, h)
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		h.Go("2026-10-01 10:00")
		if _, err := h.MoveBooking(h.Ctx, nadia, aurel.ID, "D3", store.Once{}); err != nil {
			t.Fatal(err)
		}
		s := tableSheet(t, h, "D1")
		if s.Heads != 4 || s.Severe != 0 {
			t.Errorf("D1 after K39 left: %s", s.Sure)
		}
		if to := tableSheet(t, h, "D3"); to.Heads != 4 || to.Sure.String() != "1 wheat (coeliac), severe · 3 none · 0 not told · 4 in all" {
			t.Errorf("D3: %s", to.Sure)
		}
		if err := h.MoveClass(h.Ctx, storetest.Odile, "D1", h.At("2026-10-02 18:00"), "the kill floor closes"); err != nil {
			t.Fatal(err)
		}
		s = tableSheet(t, h, "D1") // now a day ahead: frozen since Tue Sep 29
		var all string
		for _, c := range s.Changes {
			all += c.Booking + " " + c.What + "\n"
		}
		for _, want := range []string{"K39 seats moved from D1 to D3", " the class moved from Thu Oct 15, 18:00 to Fri Oct 2, 18:00"} {
			if !strings.Contains(all, want+"\n") {
				t.Errorf("the box does not say %q:\n%s", want, all)
			}
		}
		if strings.Contains(all, "kill floor") {
			t.Errorf("the note's own words are shown: %s", all)
		}
	})
}

// R14: needs of one class never stand on another's sheet; what eats no dinner has none.
func TestTableSheetOfThisClassAlone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layD1(t, h)
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		bought(t, h, diners("D3", 46, "Pilar G.", need("mustard", false, "whole seeds"), none))
		for code, foreign := range map[string][]string{"D1": {"mustard", "Pilar"}, "D3": {"wheat", "coeliac", "Aurel", "pregnant"}} {
			sheet := *tableSheet(t, h, code)
			for i, d := range sheet.Dishes { // what a dish holds is nobody's answer; how it is marked is
				if len(d.Away) > 0 != (code == "D1" && d.Name == "bread") || d.Cannot > 0 != (d.Name == "bread" && code == "D1" || d.Board != "" && code == "D3") {
					t.Errorf("%s: %+v", code, d)
				}
				sheet.Dishes[i].Name, sheet.Dishes[i].Holds = "", nil
			}
			sheet.Menu = nil
			all := fmt.Sprintf("%+v", sheet)
			for _, f := range foreign {
				if strings.Contains(all, f) {
					t.Errorf("%s shows %q of another class", code, f)
				}
			}
		}
		for _, code := range []string{"B3", "D9", "", "D1' OR '1'='1"} {
			_, err := h.TableSheet(h.Ctx, code)
			if e, ok := shop.AsError(err); !ok || e.Kind != shop.NotFound {
				t.Errorf("TableSheet(%q) = %v, want not found", code, err)
			}
		}
	})
}

// R11: wine for 21 and over who said yes. Lamb: 3 × 6 oz ÷ 0.72 ÷ 0.80 = 31.25 oz = 1.95 lb.
func TestTableSheetWine(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "D4", "lamb", "2026-11-05 18:00")
		n := diners("D4", 48, "Iwan B.", none, none, none)
		for i, age := range []int{0, 17, 21} {
			n.People[i].Age, n.People[i].Wine = age, true
		}
		bought(t, h, n)
		s := tableSheet(t, h, "D4")
		if s.Sure.Wine != 2 || s.Sure.NoAge != 1 || s.Sure.Minors != 1 || s.Sure.Watch != 0 || s.People[1].Wine || !s.People[1].Minor {
			t.Errorf("%+v", s.Sure)
		}
		if s.Buy == nil || s.Buy.Name != "leg of lamb" || s.Buy.Raw.LB() != "1.95 lb" {
			t.Errorf("%+v", s.Buy)
		}
	})
}

// R22: the dinner never comes from the lot of the class's own half.
func TestTableSheetNamesTheLotToLeave(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layD1(t, h)
		for _, sql := range []string{
			"INSERT INTO kill_days (plant_id, day, delivery_day) VALUES ((SELECT min(id) FROM plants), '2026-10-13', '2026-10-15')",
			`INSERT INTO orders (number, farm_id, kill_day_id, species, state, token_hash)
				VALUES (7, (SELECT min(id) FROM farms), (SELECT max(id) FROM kill_days), 'pork', 'delivered', 'o7')`,
			"INSERT INTO deliveries (order_id, day, lot) VALUES ((SELECT id FROM orders WHERE number = 7), '2026-10-15', 'L7-2026-10-15')",
		} {
			if err := h.Do(h.Ctx, sql); err != nil {
				t.Fatal(err)
			}
		}
		if s := tableSheet(t, h, "D1"); len(s.NotFrom) != 0 {
			t.Errorf("no meat ordered yet, and not from %v", s.NotFrom)
		}
		if err := h.Do(h.Ctx, "UPDATE classes SET order_id = (SELECT id FROM orders WHERE number = 7) WHERE code = 'D1'"); err != nil {
			t.Fatal(err)
		}
		if s := tableSheet(t, h, "D1"); fmt.Sprint(s.NotFrom) != "[L7-2026-10-15]" {
			t.Errorf("not from %v", s.NotFrom)
		}
	})
}

// An answer that contradicts its list is shown or asked again, never taken for none (R12).
func TestTableSheetTrustsNoEmptyWord(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		aurel, mirabel, _ := layD1(t, h)
		for guest, sql := range map[shop.GuestID]string{
			aurel.People[1].GuestID:   "UPDATE guests SET needs_state = 'none' WHERE id = ?", // wheat stands there
			mirabel.People[0].GuestID: "DELETE FROM needs WHERE guest_id = ?",                // a list of nothing
			aurel.People[0].GuestID:   "UPDATE guests SET needs_state = '' WHERE id = ?",
		} {
			if err := h.Do(h.Ctx, sql, guest); err != nil {
				t.Fatal(err)
			}
		}
		want := "1 wheat (coeliac), severe · 1 pregnant · 3 none · 3 not told · 8 in all"
		if got := tableSheet(t, h, "D1").Sure.String(); got != want {
			t.Errorf("%s\nwant %s", got, want)
		}
	})
}

func TestDinners(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		if got, err := h.Dinners(h.Ctx); len(got) != 0 || err != nil {
			t.Fatalf("an empty season has %v, %v", got, err)
		}
		class(t, h, "D5", "beef", "2026-11-12 18:00") // seven weeks and more ahead
		layD1(t, h)
		class(t, h, "B3", "bacon", "2026-10-24 13:00")
		class(t, h, "D3", "pig", "2026-10-29 18:00")
		class(t, h, "P1", "grazing", "2026-10-16 19:00", func(c *shop.NewClass) { c.Private = true })
		class(t, h, "D7", "pig", "2026-10-22 18:00")
		if err := h.CallOff(h.Ctx, storetest.Odile, "D7", "too few"); err != nil {
			t.Fatal(err)
		}
		list := func() string {
			t.Helper()
			all, err := h.Dinners(h.Ctx)
			if err != nil {
				t.Fatal(err)
			}
			var out []string
			for _, d := range all {
				out = append(out, fmt.Sprintf("%s %d+%d ask %d severe %d", d.Code, d.Heads, d.Held, d.NotTold, d.Severe))
			}
			return strings.Join(out, ", ")
		}
		if got, want := list(), "D1 8+0 ask 1 severe 1, P1 0+0 ask 0 severe 0, D3 0+0 ask 0 severe 0"; got != want {
			t.Errorf("on Sep 21: %s\nwant %s", got, want)
		}
		h.Go("2026-10-15 22:00")
		if got := list(); !strings.HasPrefix(got, "D1 8+0") {
			t.Errorf("on the evening itself: %s", got)
		}
		h.Go("2026-10-16 08:00")
		if got, want := list(), "P1 0+0 ask 0 severe 0, D3 0+0 ask 0 severe 0, D5 0+0 ask 0 severe 0"; got != want {
			t.Errorf("on Oct 16: %s\nwant %s", got, want)
		}
		if s := tableSheet(t, h, "P1"); s.Buy != nil {
			t.Errorf("a roast for a grazing evening: %+v", s.Buy)
		}
	})
}
