package store

import (
	"context"
	"fmt"
	"slices"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// A PartyQuote is what a party would pay if it booked now.
type PartyQuote struct {
	Total  unit.Money
	DueNow unit.Money // less than Total where a deposit is enough (R2)
	RestBy unit.Day   // by when the rest; 0: there is none
}

// PartyQuote reckons a party at the prices a class shows. Booking reckons again.
func (s *Store) PartyQuote(c ClassCard, p shop.Party) PartyQuote {
	q := PartyQuote{Total: c.Price*unit.Money(p.Places) + c.SecondPrice*unit.Money(max(0, p.Slabs-p.Places)) + c.WatchPrice*unit.Money(p.Watching)}
	due := money.PartyDue(q.Total, p.Places+p.Watching, s.Today(), c.Day, s.moneyRules())
	q.DueNow, q.RestBy = due.Now, due.RestBy
	return q
}

// A PayQuote is what codes would cover of what a booking owes, and what is left to pay in
// money: at least Money, at most All.
type PayQuote struct {
	Covers  []Cover    // code by code
	Covered unit.Money // together
	Money   unit.Money // due now
	All     unit.Money // everything owed
}

// A Cover is what one voucher or credit pays of a booking.
type Cover struct {
	Name  string     // "Voucher ending in 7KQD": never the code itself
	Cents unit.Money // of the booking
	Seat  bool       // one whole seat, whatever it costs
	Left  unit.Money // stays on it as a sum; 0 where a seat is spent
}

// covers names what each voucher and credit pays, first spent first. What is not needed
// comes last and pays nothing.
func (t tx) covers(uses []money.Source, offers []money.Offer) (out []Cover, err error) {
	spent := func(u money.Source) func(money.Offer) bool {
		return func(o money.Offer) bool { return o.Kind == u.Kind && o.ID == u.ID }
	}
	for _, u := range uses {
		o := offers[slices.IndexFunc(offers, spent(u))]
		line := Cover{Cents: u.Cents, Seat: u.Whole, Left: o.Left - u.Cents}
		if u.Whole {
			line.Left = 0
		}
		if line.Name, err = t.nameOf(o); err != nil {
			return nil, err
		}
		out = append(out, line)
		offers = slices.DeleteFunc(slices.Clone(offers), spent(u))
	}
	for _, o := range offers {
		line := Cover{Left: o.Left}
		if line.Name, err = t.nameOf(o); err != nil {
			return nil, err
		}
		out = append(out, line)
	}
	return out, nil
}

// nameOf tells one voucher or credit from the others without giving its code away.
func (t tx) nameOf(o money.Offer) (string, error) {
	if o.Kind == money.Credit {
		return fmt.Sprintf("Credit %d", o.ID), nil
	}
	v, err := take[shop.Voucher](t.DB, "The voucher", "id = ?", o.ID)
	if err != nil {
		return "", err
	}
	return "Voucher ending in " + v.CodeEnd, nil
}

// PayQuote says what vouchers and credits would cover; nothing is taken (R8).
func (s *Store) PayQuote(ctx context.Context, by shop.Actor, id shop.BookingID, vouchers, credits []string) (PayQuote, error) {
	var q PayQuote
	err := s.tx(ctx, func(t tx) error {
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		uses, offers, err := t.cover(b, c, shop.PaymentIn{Vouchers: vouchers, Credits: credits})
		if err != nil {
			return err
		}
		q = PayQuote{}
		if q.Covers, err = t.covers(uses, offers); err != nil {
			return err
		}
		for _, u := range uses {
			q.Covered += u.Cents
		}
		q.Money, q.All = max(0, b.DueNow()-q.Covered), max(0, b.Owes()-q.Covered)
		return nil
	})
	return q, err
}

// A SeatPrice is what a seat of a kind costs today.
type SeatPrice struct {
	Code  string
	Name  string
	Price unit.Money
}

// SeatPrices lists the kinds of class that have a price, for presents.
func (s *Store) SeatPrices(ctx context.Context) ([]SeatPrice, error) {
	kinds, err := s.Kinds(ctx)
	if err != nil {
		return nil, err
	}
	var out []SeatPrice
	for i := range kinds {
		var card ClassCard
		if err := s.prices(s.read(ctx), &kinds[i], s.Now(), &card); err != nil {
			return nil, err
		}
		if card.Price > 0 {
			out = append(out, SeatPrice{kinds[i].Code, kinds[i].Name, card.Price})
		}
	}
	return out, nil
}
