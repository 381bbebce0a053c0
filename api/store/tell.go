package store

import (
	"flitchbook/api/shop"
)

// facts is the snapshot of a booking as its payer may read it.
func (t tx) facts(b *shop.Booking, c *shop.Class) (shop.Facts, error) {
	f, err := t.guestFacts(b, c)
	f.Total, f.Paid, f.Owes, f.DueOn = b.TotalCents, b.PaidCents, b.Owes(), b.BalanceDueOn
	return f, err
}

// guestFacts is the same without money: guests never read a price.
func (t tx) guestFacts(b *shop.Booking, c *shop.Class) (shop.Facts, error) {
	f := shop.Facts{Ref: b.Ref(), Class: c.Title, ClassCode: c.Code, StartsAt: c.StartsAt, EndsAt: c.EndsAt}
	rows, err := t.standing(b, waitingOrStanding...)
	if err != nil {
		return f, err
	}
	f.Seats = places(rows)
	f.Watching = len(rows) - f.Seats
	k, err := t.kindOf(c)
	if err != nil {
		return f, err
	}
	f.Wear = k.Wear
	return f, nil
}

var waitingOrStanding = []shop.BookingState{shop.Waiting, shop.Offered, shop.Held, shop.Firm, shop.Came, shop.Missed}

// toPayer addresses a notice to who pays. Messages that answer the person's own press of
// a button just now are urgent: they go in quiet hours too.
func (t tx) toPayer(b *shop.Booking, kind, key string) shop.Notice {
	return shop.Notice{Key: key, Kind: kind, ToName: b.PayerName, ToAddr: b.PayerEmail, Subject: "booking", SubjectID: int64(b.ID)}
}

// toGuest addresses a notice to a guest, or to the payer where the guest gave no address.
func (t tx) toGuest(b *shop.Booking, g *shop.Guest, kind, key string) shop.Notice {
	if g.Email == "" || g.Payer {
		return t.toPayer(b, kind, key)
	}
	return shop.Notice{Key: key, Kind: kind, ToName: g.Name, ToAddr: g.Email, Subject: "guest", SubjectID: int64(g.ID)}
}
