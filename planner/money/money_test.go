package money

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// The figures are the demo shop's own house rules R2, R4, R5 and R8; the expected sums
// were reckoned by hand from them.
var house = Rules{
	PartyDeposit: 5, DepositShare: 40 * unit.Percent, BalanceDays: 14,
	PrivateDeposit: 300_00, PrivateBalance: 7,
	FullBackDays: 14, ChooseDays: 7, ChooseShare: 50 * unit.Percent, CalledOffShare: 110 * unit.Percent,
}

func day(m time.Month, d int) unit.Day { return unit.DayOf(2026, m, d) }

func TestDueAtBooking(t *testing.T) {
	for _, c := range []struct {
		what  string
		got   Due
		now   unit.Money
		rest  unit.Money
		until unit.Day
	}{
		{"two seats", PartyDue(210_00, 2, day(10, 20), day(11, 7), house), 210_00, 0, 0},
		{"four seats are still under five", PartyDue(380_00, 4, day(9, 1), day(10, 17), house), 380_00, 0, 0},
		{"Friedel's six: 40 % of $570", PartyDue(570_00, 6, day(9, 10), day(10, 17), house), 228_00, 342_00, day(10, 3)},
		{"Ottoline's five: 40 % of $475", PartyDue(475_00, 5, day(10, 10), day(11, 14), house), 190_00, 285_00, day(10, 31)},
		{"Cordelia's six at a clinic: 40 % of $990", PartyDue(990_00, 6, day(9, 12), day(10, 29), house), 396_00, 594_00, day(10, 15)},
		{"the quarry's eight: 40 % of $1680", PartyDue(1680_00, 8, day(8, 20), day(11, 12), house), 672_00, 1008_00, day(10, 29)},
		{"the rest's day has come", PartyDue(570_00, 6, day(10, 3), day(10, 17), house), 570_00, 0, 0},
		{"one day before it", PartyDue(570_00, 6, day(10, 2), day(10, 17), house), 228_00, 342_00, day(10, 3)},
		{"a private party", PrivateDue(880_00, day(9, 1), day(10, 24), house), 300_00, 580_00, day(10, 17)},
		{"a private party of less than the deposit", PrivateDue(250_00, day(9, 1), day(10, 24), house), 250_00, 0, 0},
	} {
		if c.got.Now != c.now || c.got.Rest != c.rest || c.got.RestBy != c.until || c.got.Why == "" {
			t.Errorf("%s: %+v, want %s now, %s by %s", c.what, c.got, c.now, c.rest, c.until)
		}
	}
}

func TestLeaving(t *testing.T) {
	class := day(10, 17)
	for _, c := range []struct {
		what          string
		paid          unit.Money
		on            unit.Day
		money, credit unit.Money
		ifSold        unit.Money
		words         string
	}{
		{"fourteen days before", 95_00, day(10, 3), 95_00, 95_00, 0, "$95.00 back"},
		{"thirteen", 95_00, day(10, 4), 47_50, 95_00, 0, "$47.50 back, or $95.00 credit"},
		{"seven", 95_00, day(10, 10), 47_50, 95_00, 0, "$47.50 back, or $95.00 credit"},
		{"six", 95_00, day(10, 11), 0, 0, 95_00, "$0.00 back; $95.00 credit if the seat is sold again"},
		{"Marguerite, three days before", 95_00, day(10, 14), 0, 0, 95_00, "$0.00 back; $95.00 credit if the seat is sold again"},
		{"on the day", 95_00, day(10, 17), 0, 0, 95_00, "$0.00 back; $95.00 credit if the seat is sold again"},
		{"an odd cent is rounded up", 95_01, day(10, 10), 47_51, 95_01, 0, "$47.51 back, or $95.01 credit"},
	} {
		l := Leave(c.paid, c.on, class, house)
		if l.Money != c.money || l.Credit != c.credit || l.IfSold != c.ifSold || l.Words() != c.words {
			t.Errorf("%s: %+v %q, want %s, %s, %s %q", c.what, l, l.Words(), c.money, c.credit, c.ifSold, c.words)
		}
	}
	// One of Cordelia's six clinic seats of $165, nine days before.
	if l := Leave(165_00, day(10, 20), day(10, 29), house); l.Money != 82_50 || l.Credit != 165_00 {
		t.Errorf("a clinic seat nine days before: %+v, want $82.50 or $165.00", l)
	}
	// Ansgar's venison clinic was called off: 110 % of $180.
	if c := CalledOffCredit(180_00, house); c != 198_00 {
		t.Errorf("called off: credit %s, want $198.00", c)
	}
	if n := LeastHeads(24); n != 21 {
		t.Errorf("24 booked may fall to %d, want 21", n)
	}
}

func TestOrderOfPaying(t *testing.T) {
	// A seat voucher for which $90 was paid covers a $105 seat of its kind, and $90 of a clinic seat.
	uses, cash := Cover(105_00, 105_00, 1, []Offer{{Kind: Voucher, ID: 1, Left: 90_00, OneOff: true}})
	if len(uses) != 1 || uses[0].Cents != 105_00 || !uses[0].Whole || cash != 0 {
		t.Errorf("a seat voucher on its kind: %+v and %s", uses, cash)
	}
	uses, cash = Cover(165_00, 165_00, 1, []Offer{{Kind: Voucher, ID: 1, Left: 95_00}})
	if len(uses) != 1 || uses[0].Cents != 95_00 || cash != 70_00 {
		t.Errorf("on another kind: %+v and %s, want $95.00 and $70.00", uses, cash)
	}
	// A seat voucher is for a whole seat: beside a voucher of money it goes first, and of what
	// is less than a seat it pays that alone and keeps the rest.
	both := []Offer{{Kind: Voucher, ID: 1, Left: 70_00}, {Kind: Voucher, ID: 2, Left: 95_00, OneOff: true}}
	for _, c := range []struct {
		owed, cash unit.Money
		uses       []Source
	}{
		{95_00, 0, []Source{{Kind: Voucher, ID: 2, Cents: 95_00, Whole: true}}},
		{115_00, 0, []Source{{Kind: Voucher, ID: 2, Cents: 95_00, Whole: true}, {Kind: Voucher, ID: 1, Cents: 20_00}}},
		{80_00, 0, []Source{{Kind: Voucher, ID: 1, Cents: 70_00}, {Kind: Voucher, ID: 2, Cents: 10_00}}},
		{190_00, 25_00, []Source{{Kind: Voucher, ID: 2, Cents: 95_00, Whole: true}, {Kind: Voucher, ID: 1, Cents: 70_00}}},
	} {
		if uses, cash := Cover(c.owed, 95_00, 1, both); !slices.Equal(uses, c.uses) || cash != c.cash {
			t.Errorf("%s owed: %+v and %s, want %+v and %s", c.owed, uses, cash, c.uses, c.cash)
		}
	}
	// Bought for $90 and the seat costs $105 now: it covers $100 of it that are owed still.
	if uses, cash := Cover(100_00, 105_00, 1, []Offer{{Kind: Voucher, ID: 1, Left: 90_00, OneOff: true}}); len(uses) != 1 || uses[0].Cents != 100_00 || !uses[0].Whole || cash != 0 {
		t.Errorf("all but $5.00 of a seat: %+v and %s", uses, cash)
	}
	// Vouchers first, then credit, then money; what is not needed is left out.
	uses, cash = Cover(200_00, 95_00, 0, []Offer{{Kind: Credit, ID: 7, Left: 150_00}, {Kind: Voucher, ID: 8, Left: 100_00}, {Kind: Voucher, ID: 9, Left: 100_00}, {Kind: Credit, ID: 10, Left: 5_00}})
	if len(uses) != 2 || uses[0].ID != 8 || uses[1].ID != 9 || cash != 0 {
		t.Errorf("two vouchers are enough: %+v and %s", uses, cash)
	}
	// Back the other way: money first, then credit; a seat voucher comes whole or not.
	back, rest := GiveBack(100_00, []Source{{Kind: Voucher, ID: 1, Cents: 95_00, Whole: true}, {Kind: Credit, ID: 2, Cents: 30_00}, {Kind: Cash, Name: "card", Cents: 50_00}})
	if len(back) != 2 || back[0].Name != "card" || back[0].Cents != 50_00 || back[1].ID != 2 || back[1].Cents != 30_00 || rest != 20_00 {
		t.Errorf("give-back: %+v, rest %s", back, rest)
	}
}

// Whatever is owed and offered: what is used and what is paid make up what was owed, and
// giving all of it back returns each source what it gave.
func TestPayingAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		owed := unit.Money(rapid.Int64Range(0, 2000_00).Draw(t, "owed"))
		var offers []Offer
		for i := range rapid.IntRange(0, 5).Draw(t, "offers") {
			offers = append(offers, Offer{Kind: Kind(rapid.IntRange(0, 1).Draw(t, "kind")), ID: int64(i + 1),
				Left: unit.Money(rapid.Int64Range(0, 500_00).Draw(t, "left")), OneOff: rapid.Bool().Draw(t, "seat")})
			offers[i].OneOff = offers[i].OneOff && offers[i].Kind == Voucher
		}
		uses, cash := Cover(owed, 95_00, 3, offers)
		sum := cash
		for _, u := range uses {
			if u.Cents <= 0 {
				t.Fatalf("a use of %s", u.Cents)
			}
			sum += u.Cents
			if left := offers[u.ID-1].Left; u.Whole && u.Cents < min(left, 95_00) || !u.Whole && u.Cents > left {
				t.Fatalf("%s of a voucher or credit of %s, whole %v", u.Cents, left, u.Whole)
			}
		}
		if sum != owed || cash < 0 {
			t.Fatalf("covered %s of %s", sum, owed)
		}
		if cash > 0 {
			uses = append(uses, Source{Kind: Cash, Cents: cash})
		}
		back, rest := GiveBack(owed, uses)
		for _, b := range back {
			sum -= b.Cents
		}
		if sum != 0 || rest != 0 {
			t.Fatalf("%s was not given back, rest %s", sum, rest)
		}
		prices := []unit.Money{95_00, 95_00, 30_00}
		var shared unit.Money
		for _, s := range Shares(owed, prices) {
			shared += s
		}
		if shared != owed {
			t.Fatalf("shares add up to %s, not %s", shared, owed)
		}
	})
}
