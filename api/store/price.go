package store

import (
	"context"
	"slices"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// PriceLine is one price of a seat, from its moment to the next of the same seat.
type PriceLine struct {
	ID       int64
	Kind     string // code
	KindName string
	Seat     shop.SeatKind
	Cents    unit.Money
	From     unit.Instant // 0: from the beginning
	Now      bool         // what a booking pays this moment
	Ahead    bool         // not yet: may still be taken back
}

// PriceKind is a kind of class and the seats it sells.
type PriceKind struct {
	Code  string
	Name  string
	Seats []shop.SeatKind
}

// Prices lists the prices of today and those still to come, kind by kind.
func (s *Store) Prices(ctx context.Context) (lines []PriceLine, kinds []PriceKind, err error) {
	db, now := s.read(ctx), s.Now()
	all, err := many[shop.ClassKind](db, "id", "1 = 1")
	if err != nil {
		return nil, nil, err
	}
	rows, err := many[shop.Price](db, "from_at", "1 = 1")
	if err != nil {
		return nil, nil, err
	}
	for _, k := range all {
		kinds = append(kinds, PriceKind{Code: k.Code, Name: k.Name, Seats: k.SeatKinds()})
		for _, seat := range k.SeatKinds() {
			first := len(lines)
			for _, p := range rows {
				if p.KindID != k.ID || p.Seat != seat {
					continue
				}
				l := PriceLine{ID: p.ID, Kind: k.Code, KindName: k.Name, Seat: seat, Cents: p.Cents, From: p.From, Ahead: p.From > now}
				if !l.Ahead { // it takes the place of the one before
					lines, l.Now = lines[:first], true
				}
				lines = append(lines, l)
			}
		}
	}
	return lines, kinds, nil
}

// SetPrice says what a seat costs whoever books from a moment on. The moment may not be
// past: what people were asked for stays what they were asked for.
func (s *Store) SetPrice(ctx context.Context, by shop.Actor, n shop.NewPrice) error {
	return s.tx(ctx, func(t tx) error {
		if n.From == 0 {
			n.From = t.now
		}
		var w shop.Wrong
		kind, err := many[shop.ClassKind](t.DB, "id", "code = ?", n.Kind)
		if err != nil {
			return err
		}
		if len(kind) == 0 {
			w.Add("kind", "Please choose a kind of class.")
		} else if !slices.Contains(kind[0].SeatKinds(), n.Seat) {
			w.Add("seat", "%s has no such seat.", kind[0].Name)
		}
		if n.Cents < 0 || n.Cents > shop.MostPrice {
			w.Add("price", "Please write a price from $0.00 to %s.", shop.MostPrice)
		}
		if n.From < t.now {
			w.Add("from", "That moment is past. Who booked since then was asked for the old price.")
		}
		if err := w.Err(); err != nil {
			return err
		}
		row := shop.Price{KindID: kind[0].ID, Seat: n.Seat, Cents: n.Cents, From: n.From}
		was, err := t.priceAt(row.KindID, row.Seat, n.From)
		if err != nil {
			if e, ok := shop.AsError(err); !ok || e.Code != "no_price" {
				return err
			}
		}
		if _, err := upsert(t, &row, "kind_id = ? AND seat = ? AND from_at = ?", row.KindID, row.Seat, row.From); err != nil {
			return err
		}
		return t.note(by, "class kind", int64(row.KindID), "price set", was.String(), n.Cents.String(), string(n.Seat)+" from "+n.From.Show(t.s.Loc))
	})
}

// TakeBackPrice takes back a price whose moment has not come.
func (s *Store) TakeBackPrice(ctx context.Context, by shop.Actor, id int64) error {
	return s.tx(ctx, func(t tx) error {
		p, err := take[shop.Price](t.DB, "The price", "id = ?", id)
		if err != nil {
			return err
		}
		if p.From <= t.now {
			return shop.Stop("price_stands", "This price has been asked for since %s; set another from a moment to come.", p.From.Show(t.s.Loc))
		}
		if err := t.Exec("DELETE FROM prices WHERE id = ?", id).Error; err != nil {
			return err
		}
		return t.note(by, "class kind", int64(p.KindID), "price taken back", p.Cents.String(), "", string(p.Seat)+" from "+p.From.Show(t.s.Loc))
	})
}
