package money

import (
	"slices"

	"flitchbook/planner/unit"
)

// Kind is what a booking is paid with.
type Kind int

// The kinds, in the order of paying (R8); give-backs run in reverse.
const (
	Voucher Kind = iota
	Credit
	Cash // money of any sort
)

// A Source is one thing a booking was paid with, or may be.
type Source struct {
	Kind  Kind
	ID    int64      // of the voucher or credit
	Name  string     // how the money came: "cash", "card"
	Cents unit.Money // what it covers, or covered
	Whole bool       // a seat voucher: comes back whole or not at all
}

// Offer is a voucher or credit laid on the table.
type Offer struct {
	Kind   Kind
	ID     int64
	Left   unit.Money // its worth as a sum: what was paid for it, or what is left of it
	OneOff bool       // a seat voucher of this very kind: covers one seat at any price (R7)
}

// Cover spends vouchers, then credits, on what is owed (R8). A seat voucher of the kind
// covers one seat whatever the seat costs now, at most seats of them; of another kind it is
// worth what was paid for it (R7). Seat vouchers go first, each on a whole seat: after others
// they would be spent on what those left of it. Where less than a seat is owed, one that cost
// more than that is worth what was paid for it too, and keeps the rest. It returns what each
// covers, in order, and what is left to pay with money. An offer that is not needed is left
// out.
func Cover(owed, seatPrice unit.Money, seats int, offers []Offer) (uses []Source, money unit.Money) {
	spend := func(o Offer, cents unit.Money, whole bool) bool {
		if cents <= 0 {
			return false
		}
		owed -= cents
		uses = append(uses, Source{Kind: o.Kind, ID: o.ID, Cents: cents, Whole: whole})
		return true
	}
	var sums, asSum, credits []Offer
	for _, o := range offers {
		switch {
		case o.Kind == Credit:
			credits = append(credits, o)
		case !o.OneOff:
			sums = append(sums, o)
		case seats > 0 && (owed >= seatPrice || owed >= o.Left) && spend(o, min(seatPrice, owed), true):
			seats--
		default:
			asSum = append(asSum, o)
		}
	}
	for _, o := range slices.Concat(sums, asSum, credits) {
		spend(o, min(o.Left, owed), false)
	}
	return uses, owed
}

// GiveBack takes amount out of what a booking was paid with: money first, then credit,
// then vouchers, in each the last paid first (R8). A seat voucher is never cut: where
// less than the whole of it comes back, that part is returned in rest, for a credit.
func GiveBack(amount unit.Money, paid []Source) (back []Source, rest unit.Money) {
	for _, kind := range []Kind{Cash, Credit, Voucher} {
		for i := len(paid) - 1; i >= 0 && amount > 0; i-- {
			p := paid[i]
			if p.Kind != kind || p.Cents <= 0 || p.Whole && p.Cents > amount {
				continue
			}
			p.Cents = min(p.Cents, amount)
			amount -= p.Cents
			back = append(back, p)
		}
	}
	return back, amount
}
