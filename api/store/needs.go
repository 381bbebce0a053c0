package store

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// People who have not told their food needs are asked once more, some days before the
// class in the morning (R12); afterwards they print as ASK.

func (s *Store) needsAskAt(c *shop.Class) unit.Instant {
	return (c.Day - unit.Day(s.Rules.NeedsMissing)).At(s.Rules.MorningHour, 0, s.Loc)
}

// needsAskable lists classes whose people were not asked again yet.
func needsAskable(ctx context.Context, s *Store) ([]shop.Class, error) {
	return many[shop.Class](s.read(ctx), "starts_at", "needs_asked_at = 0 AND starts_at > ? AND state IN (?, ?)", s.Now(), shop.Open, shop.GoingAhead)
}

func nextNeedsAsk(ctx context.Context, s *Store) (unit.Instant, error) {
	classes, err := needsAskable(ctx, s)
	if err != nil || len(classes) == 0 {
		return 0, err
	}
	return s.needsAskAt(&classes[0]), nil
}

func askNeeds(ctx context.Context, s *Store) error {
	classes, err := needsAskable(ctx, s)
	if err != nil {
		return err
	}
	for _, c := range classes {
		if s.needsAskAt(&c) > s.Now() {
			continue
		}
		err := s.tx(ctx, func(t tx) error {
			c, err := t.lockClass(c.ID)
			if err != nil || c.NeedsAskedAt != 0 || s.needsAskAt(c) > t.now {
				return err
			}
			if err := t.Model(&shop.Class{}).Where("id = ?", c.ID).Update("needs_asked_at", t.now).Error; err != nil {
				return err
			}
			bookings, err := many[shop.Booking](t.DB, "number", "class_id = ? AND state = ?", c.ID, shop.Firm)
			if err != nil {
				return err
			}
			for i := range bookings {
				if err := t.askParty(&bookings[i], c); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// askParty writes to each guest with an address who has not answered, and one message to
// the payer for all the others: who is missing, never what.
func (t tx) askParty(b *shop.Booking, c *shop.Class) error {
	guests, err := t.guestsOf(b)
	if err != nil {
		return err
	}
	var names []string
	for i, g := range guests {
		if g.NeedsState != shop.NotTold {
			continue
		}
		if g.Email != "" && !g.Payer && g.Email != b.PayerEmail {
			f, err := t.guestFacts(b, c)
			if err != nil {
				return err
			}
			if err := t.tell(t.toGuest(b, &g.Guest, shop.NoticeNeedsMissing, fmt.Sprintf("needs-missing/%s/guest %d", c.Code, g.ID)), f); err != nil {
				return err
			}
			continue
		}
		name := g.Name
		if name == "" {
			name = fmt.Sprintf("guest %d", i+1)
		}
		names = append(names, name)
	}
	if len(names) == 0 {
		return nil
	}
	f, err := t.guestFacts(b, c)
	if err != nil {
		return err
	}
	f.Lines = names
	return t.tell(t.toPayer(b, shop.NoticeNeedsMissing, fmt.Sprintf("needs-missing/%s/%d", c.Code, b.Number)), f)
}

// erasable is a booking whose people have answered about food, with what decides when the
// answers go: the day of its class, the last thing done to its slabs, slabs still on
// their way.
type erasable struct {
	ID   shop.BookingID
	Day  unit.Day
	Last unit.Instant
	Open int
}

// when is the moment the answers are erased, or 0 while a slab is not fetched yet (R14).
func (e erasable) when(s *Store) unit.Instant {
	if e.Open > 0 {
		return 0
	}
	return max((e.Day+unit.Day(s.Rules.EraseDays)).At(s.Rules.MorningHour, 0, s.Loc), e.Last.Add(time.Duration(s.Rules.EraseDays)*24*hour))
}

func erasables(db *gorm.DB) ([]erasable, error) {
	var out []erasable
	slabs := "FROM slabs JOIN seats ON seats.id = slabs.seat_id WHERE seats.booking_id = b.id"
	err := db.Raw(`SELECT b.id, c.day, COALESCE((SELECT max(steps.done_at) FROM steps WHERE steps.slab_id IN (SELECT slabs.id `+slabs+`)), 0) AS last,
		(SELECT count(*) `+slabs+` AND slabs.state NOT IN ?) AS open
		FROM bookings b JOIN classes c ON c.id = b.class_id
		WHERE b.id IN (SELECT booking_id FROM guests WHERE needs_state <> '`+string(shop.NotTold)+`' AND NOT remember) ORDER BY b.id`, // as its index is written
		shop.SlabsDone).Scan(&out).Error
	return out, err
}

func nextErase(ctx context.Context, s *Store) (unit.Instant, error) {
	rows, err := erasables(s.read(ctx))
	var first unit.Instant
	for _, e := range rows {
		if at := e.when(s); at != 0 && (first == 0 || at < first) {
			first = at
		}
	}
	return first, err
}

// eraseNeeds erases what people answered about food once it has served, unless they
// ticked "remember" (R14).
func eraseNeeds(ctx context.Context, s *Store) error {
	rows, err := erasables(s.read(ctx))
	if err != nil {
		return err
	}
	for _, e := range rows {
		if at := e.when(s); at == 0 || at > s.Now() {
			continue
		}
		err := s.tx(ctx, func(t tx) error {
			guests, err := many[shop.Guest](t.DB, "id", "booking_id = ? AND needs_state <> ? AND remember = ?", e.ID, shop.NotTold, false)
			if err != nil {
				return err
			}
			for _, g := range guests {
				if err := t.Exec("DELETE FROM needs WHERE guest_id = ?", g.ID).Error; err != nil {
					return err
				}
				if err := t.Model(&shop.Guest{}).Where("id = ?", g.ID).Update("needs_state", shop.NotTold).Error; err != nil {
					return err
				}
				if err := t.note(shop.Itself(), "guest", int64(g.ID), "food answers erased", "", "", ""); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// remembered gives a person who comes again, by their address, the answers they let the
// shop keep. It fills in the guest's answer and returns the list.
func (t tx) remembered(g *shop.Guest) (shop.Answers, error) {
	if g.Email == "" {
		return shop.Answers{}, nil
	}
	last, err := many[shop.Guest](t.DB.Limit(1), "id DESC", "lower(email) = lower(?) AND remember = ? AND needs_state <> ?", g.Email, true, shop.NotTold)
	if err != nil || len(last) == 0 || anotherPerson(last[0].Name, g.Name) {
		return shop.Answers{}, err
	}
	needs, err := many[shop.Need](t.DB, "id", "guest_id = ?", last[0].ID)
	a := shop.Answers{State: last[0].NeedsState, Remember: true}
	for _, n := range needs {
		a.Needs = append(a.Needs, shop.NewNeed{Allergen: n.Allergen, Severe: n.Severe, Words: n.Words})
	}
	g.NeedsState, g.Remember = a.State, true
	return a, err
}
