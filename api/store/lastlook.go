package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A bacon class may go ahead under its minimum, because bellies have another home. Three
// days before, the owner is asked once more if hardly anybody comes (R10). The program
// asks; it never decides.

// lastLookOf is the moment a class is looked at again.
func (s *Store) lastLookOf(c shop.Class) unit.Instant {
	return (c.Day - unit.Day(s.Rules.LastLookDays)).At(s.Rules.LastLookHour, 0, s.Loc)
}

func lookedKey(id shop.ClassID) string { return fmt.Sprintf("last-look/%d", id) }

// lookable are the bacon classes under the fewest of the last look whom nobody was asked
// about yet, the earliest first.
func (s *Store) lookable(ctx context.Context) ([]shop.Class, error) {
	if s.Config.Mail == "" || s.Rules.LastLookUnder == 0 {
		return nil, nil
	}
	db := s.read(ctx)
	classes, err := many[shop.Class](db, "day, id", `state IN ? AND private = ? AND seats_taken < ? AND starts_at > ?
		AND kind_id IN (SELECT id FROM class_kinds WHERE slabs = ?)`,
		[]shop.ClassState{shop.Open, shop.GoingAhead}, false, s.Rules.LastLookUnder, s.Now(), true)
	if err != nil || len(classes) == 0 {
		return nil, err
	}
	var keys []string
	for _, c := range classes {
		keys = append(keys, lookedKey(c.ID))
	}
	var asked []string
	if err := db.Model(&shop.Notice{}).Where(`"key" IN ?`, keys).Pluck("key", &asked).Error; err != nil {
		return nil, err
	}
	done := map[string]bool{}
	for _, k := range asked {
		done[k] = true
	}
	var open []shop.Class
	for _, c := range classes {
		if !done[lookedKey(c.ID)] {
			open = append(open, c)
		}
	}
	return open, nil
}

func nextLastLook(ctx context.Context, s *Store) (unit.Instant, error) {
	open, err := s.lookable(ctx)
	var first unit.Instant
	for _, c := range open {
		if at := s.lastLookOf(c); first == 0 || at < first {
			first = at
		}
	}
	return first, err
}

func lookAgain(ctx context.Context, s *Store) error {
	open, err := s.lookable(ctx)
	if err != nil {
		return err
	}
	for _, c := range open {
		if s.lastLookOf(c) > s.Now() {
			continue
		}
		err := s.tx(ctx, func(t tx) error {
			now, err := take[shop.Class](t.DB, "The class", "id = ?", c.ID)
			if err != nil || now.SeatsTaken >= s.Rules.LastLookUnder || now.State == shop.ClassOff {
				return err
			}
			return t.tellShop(shop.Notice{Key: lookedKey(c.ID), Kind: shop.NoticeOwnerTask, Subject: "class", SubjectID: int64(c.ID), Urgent: true},
				shop.Facts{Class: now.Title, ClassCode: now.Code, StartsAt: now.StartsAt, EndsAt: now.EndsAt,
					Reason: fmt.Sprintf("%d of %d seats are taken three days before; under %d you are asked again whether it goes ahead.", now.SeatsTaken, now.Seats, s.Rules.LastLookUnder),
					Lines:  []string{"Go ahead: bellies nobody takes become house bacon.", "Call off: everybody who booked is written to and chooses.", s.Config.BaseURL + "/owner/classes/" + now.Code + "/go"}})
		})
		if err != nil {
			return err
		}
	}
	return nil
}
