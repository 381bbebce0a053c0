package store

import (
	"gorm.io/gorm"

	"flitchbook/api/shop"
)

func (s *Store) tracedParties(db *gorm.DB, tr *Traced) error {
	by := map[shop.BookingID]*TracedParty{}
	party := func(id shop.BookingID) *TracedParty {
		if by[id] == nil {
			by[id] = &TracedParty{Booking: id}
		}
		return by[id]
	}
	for _, sl := range tr.Slabs {
		if sl.Booking == 0 {
			continue
		}
		p := party(sl.Booking)
		switch sl.Stage {
		case StageOut:
			p.Out = append(p.Out, sl.Tag)
		case StageGone:
			p.Gone = append(p.Gone, sl.Tag)
		default:
			p.Here = append(p.Here, sl.Tag)
		}
	}
	for _, list := range []struct {
		of  []TracedDinner
		add func(*TracedParty, string)
	}{{tr.Dinners, func(p *TracedParty, t string) { p.Ate = append(p.Ate, t) }}, {tr.Cut, func(p *TracedParty, t string) { p.Cut = append(p.Cut, t) }}} {
		for _, d := range list.of {
			n := map[shop.BookingID]int{}
			for _, g := range d.Guests {
				if g.Ate {
					n[g.Booking]++
				}
			}
			for id, k := range n {
				list.add(party(id), countWord(k, "guest", "guests")+" at "+d.Code)
			}
		}
	}
	if len(by) == 0 {
		return nil
	}
	ids := make([]shop.BookingID, 0, len(by))
	for id := range by {
		ids = append(ids, id)
	}
	rows, err := many[shop.Booking](db, "number", "id IN ?", ids)
	if err != nil {
		return err
	}
	refs := map[shop.BookingID]string{}
	for _, b := range rows {
		p := by[b.ID]
		p.Number, p.Ref, p.Payer, p.Phone, p.Mail = b.Number, b.Ref(), b.PayerName, b.PayerPhone, b.PayerEmail != ""
		refs[b.ID] = p.Ref
		tr.Parties = append(tr.Parties, *p)
	}
	for i := range tr.Slabs {
		tr.Slabs[i].Ref = refs[tr.Slabs[i].Booking]
	}
	return nil
}

// Bookings are the parties with slabs among those of a trace.
func (t Traced) Bookings() int {
	return t.count(func(p TracedParty) bool { return len(p.Here)+len(p.Out)+len(p.Gone) > 0 })
}

// OutBookings are the parties with slabs at home.
func (t Traced) OutBookings() int {
	return t.count(func(p TracedParty) bool { return len(p.Out) > 0 })
}

// AteBookings are the parties of whom somebody ate.
func (t Traced) AteBookings() int {
	return t.count(func(p TracedParty) bool { return len(p.Ate) > 0 })
}

func (t Traced) count(is func(TracedParty) bool) int {
	n := 0
	for _, p := range t.Parties {
		if is(p) {
			n++
		}
	}
	return n
}
