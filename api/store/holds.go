package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// HoldView is a hold with what it covers.
type HoldView struct {
	shop.Hold
	Room     string
	Held     []string // tags still on it
	Parties  []string
	Refused  []RefusedStep // done meanwhile, not counted
	Readings []heat.Reading
	TellAt   unit.Instant // when their people are told if nobody decides
}

// RefusedStep is something done to a slab on hold.
type RefusedStep struct {
	shop.Step
	Tag string
}

// Holds lists the open holds, oldest first.
func (s *Store) Holds(ctx context.Context) ([]HoldView, error) {
	return s.holds(ctx, "state = ?", shop.HoldOpen)
}

// Hold reads one hold, open or decided.
func (s *Store) Hold(ctx context.Context, id shop.HoldID) (*HoldView, error) {
	hs, err := s.holds(ctx, "id = ?", id)
	if err == nil && len(hs) == 0 {
		return nil, shop.Missing("The hold")
	}
	if err != nil {
		return nil, err
	}
	return &hs[0], nil
}

func (s *Store) holds(ctx context.Context, where string, args ...any) ([]HoldView, error) {
	db := s.read(ctx)
	rows, err := many[shop.Hold](db, "opened_at, id", where, args...)
	if err != nil {
		return nil, err
	}
	var out []HoldView
	for _, h := range rows {
		v := HoldView{Hold: h, TellAt: h.OpenedAt.Add(toldAfter)}
		if h.RoomID != 0 {
			if err := db.Raw("SELECT name FROM rooms WHERE id = ?", h.RoomID).Scan(&v.Room).Error; err != nil {
				return nil, err
			}
			if v.Readings, err = roomLog(db, h.RoomID, h.OpenedAt-4*3600, h.OpenedAt+6*3600); err != nil {
				return nil, err
			}
		}
		if err := db.Raw("SELECT tag FROM slabs WHERE state = ? AND id IN (SELECT slab_id FROM hold_slabs WHERE hold_id = ?) ORDER BY class_id, number", shop.OnHold, h.ID).Scan(&v.Held).Error; err != nil {
			return nil, err
		}
		if err := db.Raw(`SELECT DISTINCT bookings.payer_name FROM bookings JOIN seats ON seats.booking_id = bookings.id JOIN slabs ON slabs.seat_id = seats.id
			WHERE slabs.id IN (SELECT slab_id FROM hold_slabs WHERE hold_id = ?) ORDER BY bookings.payer_name`, h.ID).Scan(&v.Parties).Error; err != nil {
			return nil, err
		}
		err = db.Raw(`SELECT steps.*, slabs.tag FROM steps JOIN slabs ON slabs.id = steps.slab_id WHERE counted = ? AND done_at >= ? AND slab_id IN (SELECT slab_id FROM hold_slabs WHERE hold_id = ?)
			AND (from_state <> to_state OR from_state = ?) ORDER BY done_at, steps.id`, false, h.OpenedAt, h.ID, shop.OnHold).Scan(&v.Refused).Error
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}
