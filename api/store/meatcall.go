package store

import (
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// meatCall is a class with what it asks of the animals.
type meatCall struct {
	Class  shop.Class
	Kind   shop.ClassKind
	Second int // second slabs sold, and slabs promised in the place of dumped ones
	Expect demand.Forecast
	Call   demand.Class
}

// meatCalls reads classes that need an animal, with their calls, in time order.
// Sketched classes count; those called off do not.
func (s *Store) meatCalls(db *gorm.DB, where string, args ...any) ([]meatCall, error) {
	var rows []shop.Class
	err := db.Where("state <> ?", shop.ClassOff).Where(where, args...).Order("starts_at, code").Find(&rows).Error
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	kinds := map[shop.KindID]shop.ClassKind{}
	all, err := many[shop.ClassKind](db, "id", "1 = 1")
	if err != nil {
		return nil, err
	}
	for _, k := range all {
		kinds[k.ID] = k
	}
	ids := make([]shop.ClassID, len(rows))
	for i, c := range rows {
		ids[i] = c.ID
	}
	var seconds []struct {
		ClassID shop.ClassID
		N       int
	}
	err = db.Raw("SELECT class_id, sum(slabs - 1) AS n FROM seats WHERE class_id IN ? AND slabs > 1 AND state IN ? GROUP BY class_id", ids, holding).Scan(&seconds).Error
	if err != nil {
		return nil, fmt.Errorf("second slabs: %w", err)
	}
	second := map[shop.ClassID]int{}
	for _, n := range seconds {
		second[n.ClassID] = n.N
	}
	var calls []meatCall
	for _, c := range rows {
		m := meatCall{Class: c, Kind: kinds[c.KindID], Second: second[c.ID] + c.AgainSlabs}
		if m.Expect, err = s.expect(db, c); err != nil {
			return nil, err
		}
		var ok bool
		if m.Call, ok = s.Rules.Calls(c, m.Kind, m.Second, m.Expect.Seats); ok {
			calls = append(calls, m)
		}
	}
	return calls, nil
}

// expect forecasts a class from past classes of its kind, seen as many days before. A
// private party is one booking: it comes as it is.
func (s *Store) expect(db *gorm.DB, c shop.Class) (demand.Forecast, error) {
	now := s.Now()
	if c.Private || c.StartsAt <= now {
		return demand.Forecast{Seats: c.SeatsTaken, Final: float64(c.SeatsTaken), Why: "as booked"}, nil
	}
	ahead := unit.Instant(c.StartsAt - now)
	var past []demand.Past
	err := db.Raw(`SELECT c.seats, c.seats_taken AS final,
			(SELECT count(*) FROM seats s JOIN bookings b ON b.id = s.booking_id
			 WHERE s.class_id = c.id AND s.kind <> ? AND s.state IN ? AND b.created_at <= c.starts_at - ?) AS on_hand
		FROM classes c WHERE c.kind_id = ? AND c.starts_at < ? AND c.private = ? AND c.state IN ? ORDER BY c.starts_at DESC LIMIT ?`,
		shop.WatchSeat, holding, ahead, c.KindID, now, false,
		[]shop.ClassState{shop.GoingAhead, shop.Taught, shop.ClosedOut, shop.Open}, demand.PaceClasses).Scan(&past).Error
	slices.Reverse(past) // the oldest first
	if err != nil {
		return demand.Forecast{}, fmt.Errorf("pace of earlier classes: %w", err)
	}
	return demand.Expect(past, c.SeatsTaken, c.Seats), nil
}

// reckon is the meat of some classes from one farm's animals, at all three counts of
// seats.
func (s *Store) reckon(y farmYield, calls []meatCall) (demand.Input, demand.Plan, error) {
	in := demand.Input{Profile: y.Profile, Rule: s.Rules.SlabRule()}
	for _, c := range calls {
		in.Classes = append(in.Classes, c.Call)
	}
	p, err := demand.Order(in)
	if err != nil {
		return in, p, err
	}
	return in, p, p.Check(in)
}

// animalsFull is how many animals the classes need with every seat sold; without a
// yield to reckon with, at least one.
func (s *Store) animalsFull(db *gorm.DB, species string, calls []meatCall) (int, error) {
	y, err := yieldOf(db, 0, species)
	if err != nil {
		return 0, err
	}
	_, p, err := s.reckon(y, calls)
	if err != nil {
		return 0, err
	}
	return max(p.Full.Animals, 1), nil
}
