package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// TakeHome is the card a guest takes home after the class.
type TakeHome struct {
	Tag     string
	Name    string
	Class   string
	ReadyOn unit.Day // about
	Link    string   // of the party's My-slab page
}

// TakeHome reads the cards of a class, in tag order; the shop's own slab has none.
func (s *Store) TakeHome(ctx context.Context, code string) ([]TakeHome, error) {
	db := s.read(ctx)
	c, err := take[shop.Class](db, "Class "+code, "code = ?", code)
	if err != nil {
		return nil, err
	}
	var rows []struct {
		Tag     string
		Name    string
		ReadyOn unit.Day
		LinkNo  int
	}
	err = db.Raw(`SELECT slabs.tag, guests.name, slabs.ready_on, bookings.link_no FROM slabs JOIN seats ON seats.id = slabs.seat_id
		JOIN guests ON guests.id = seats.guest_id JOIN bookings ON bookings.id = seats.booking_id
		WHERE slabs.class_id = ? AND slabs.state NOT IN ? ORDER BY slabs.number`, c.ID, []shop.SlabState{shop.Dumped, shop.Replaced}).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	about, err := s.readyAbout(db, c.Day)
	if err != nil {
		return nil, err
	}
	var out []TakeHome
	for _, r := range rows {
		card := TakeHome{Tag: r.Tag, Name: firstName(r.Name), Class: c.Title, ReadyOn: r.ReadyOn, Link: s.Link("slab", r.LinkNo)}
		if card.ReadyOn == 0 {
			card.ReadyOn = about
		}
		out = append(out, card)
	}
	return out, nil
}
