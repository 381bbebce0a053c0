package store

import (
	"context"
	"fmt"

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
