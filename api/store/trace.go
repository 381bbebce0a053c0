package store

import (
	"context"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// Trace is everything known of one slab: back to the farm and forward to the hand.
type Trace struct {
	Slab     SlabView
	Back     TraceBack
	Or       []TraceBack // it was shared out by draw: its meat may as well be of these
	Tickets  []shop.CureTicket
	Weighed  []TraceWeighed
	Places   []TracePlace
	Steps    []shop.Step
	Holds    []shop.Hold
	Inspects bool // the meat bears an inspection mark
}

// TraceBack is where the meat came from.
type TraceBack struct {
	Farm, Plant, Legend, Lot string
	OrderNumber              int
	KilledOn                 unit.Day
	DeliveredOn              unit.Day
	ReceivedBy               string
	AnimalNumber             int
	AnimalTag                string
	Side                     string
	Hot, Cold                unit.Weight
	Belly                    unit.Weight
	Piece                    int
}

// TraceWeighed is a weigh-out with the lots that went on.
type TraceWeighed struct {
	shop.WeighOut
	Scale string
	Lots  []shop.IngredientLot
}

// TracePlace is a stay in a place.
type TracePlace struct {
	Room, Place string
	Since       unit.Instant
	UntilAt     unit.Instant
}

// SlabTrace follows a slab both ways.
func (s *Store) SlabTrace(ctx context.Context, tag string) (*Trace, error) {
	v, err := s.Slab(ctx, tag)
	if err != nil {
		return nil, err
	}
	tr := &Trace{Slab: *v}
	db := s.read(ctx)
	if tr.Back, err = traceBack(db, v.BellyID); err != nil {
		return nil, err
	}
	tr.Back.Piece, tr.Inspects = v.Piece, trim(tr.Back.Legend) != ""
	others, err := many[shop.Slab](db, "class_id, number", "id <> ? AND id IN (SELECT candidate_id FROM slab_candidates WHERE slab_id = ?)", v.ID, v.ID)
	if err != nil {
		return nil, err
	}
	for _, o := range others {
		back, err := traceBack(db, o.BellyID)
		if err != nil {
			return nil, err
		}
		back.Piece = o.Piece
		tr.Or = append(tr.Or, back)
	}
	if tr.Tickets, err = many[shop.CureTicket](db, "id", "slab_id = ?", v.ID); err != nil {
		return nil, err
	}
	outs, err := many[shop.WeighOut](db, "id", "slab_id = ?", v.ID)
	if err != nil {
		return nil, err
	}
	for _, w := range outs {
		tw := TraceWeighed{WeighOut: w}
		if err := db.Raw("SELECT name FROM scales WHERE id = ?", w.ScaleID).Scan(&tw.Scale).Error; err != nil {
			return nil, err
		}
		if tw.Lots, err = many[shop.IngredientLot](db, "id", "id IN (SELECT lot_id FROM weigh_out_lots WHERE weigh_out_id = ?)", w.ID); err != nil {
			return nil, err
		}
		tr.Weighed = append(tr.Weighed, tw)
	}
	err = db.Raw(`SELECT rooms.name AS room, places.code AS place, placements.since, placements.until_at FROM placements JOIN places ON places.id = placements.place_id JOIN rooms ON rooms.id = places.room_id
		WHERE placements.slab_id = ? ORDER BY placements.id`, v.ID).Scan(&tr.Places).Error
	if err != nil {
		return nil, err
	}
	if tr.Steps, err = many[shop.Step](db, "done_at, id", "slab_id = ?", v.ID); err != nil {
		return nil, err
	}
	tr.Holds, err = many[shop.Hold](db, "opened_at, id", "id IN (SELECT hold_id FROM hold_slabs WHERE slab_id = ?)", v.ID)
	return tr, err
}

func traceBack(db *gorm.DB, id shop.BellyID) (b TraceBack, err error) {
	err = db.Raw(`SELECT farms.name AS farm, plants.name AS plant, coalesce(deliveries.legend, '') AS legend, coalesce(deliveries.lot, '') AS lot, coalesce(deliveries.received_by, '') AS received_by,
		deliveries.day AS delivered_on, orders.number AS order_number, animals.killed_on, animals.number AS animal_number, animals.tag AS animal_tag, animals.hot, sides.which AS side, sides.cold, bellies.weight AS belly
		FROM bellies JOIN sides ON sides.id = bellies.side_id JOIN animals ON animals.id = sides.animal_id JOIN orders ON orders.id = animals.order_id
		JOIN farms ON farms.id = orders.farm_id JOIN kill_days ON kill_days.id = orders.kill_day_id JOIN plants ON plants.id = kill_days.plant_id
		LEFT JOIN deliveries ON deliveries.id = animals.delivery_id WHERE bellies.id = ?`, id).Scan(&b).Error
	return b, err
}
