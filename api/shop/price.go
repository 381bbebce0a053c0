package shop

import "flitchbook/planner/unit"

// NewPrice is what the owner types of a price: what a seat of a kind costs whoever books
// from a moment on. Bookings made before keep theirs (R1), vouchers their worth (R7).
type NewPrice struct {
	Kind  string       // code of the kind of class
	Seat  SeatKind     // one the kind has
	Cents unit.Money   // a seat
	From  unit.Instant // 0: at once
}

// SeatKinds are the seats a kind of class sells, in the order of its price list.
func (k ClassKind) SeatKinds() []SeatKind {
	switch {
	case !k.Slabs:
		return []SeatKind{GuestSeat}
	case k.WatchAge > 0:
		return []SeatKind{SlabSeat, SecondSlab, WatchSeat}
	}
	return []SeatKind{SlabSeat, SecondSlab}
}

// MostPrice is the dearest seat that is taken for meant: ten thousand.
const MostPrice unit.Money = 10_000_00
