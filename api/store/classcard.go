package store

import (
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

func (s *Store) card(db *gorm.DB, c *shop.Class, now unit.Instant) (ClassCard, error) {
	one, err := s.cards(db, []shop.Class{*c}, now)
	if err != nil {
		return ClassCard{}, err
	}
	return one[0], nil
}

// cards are classes as a page shows them, in the order given. Their number does not
// change how often the database is asked.
func (s *Store) cards(db *gorm.DB, classes []shop.Class, now unit.Instant) ([]ClassCard, error) {
	out := make([]ClassCard, 0, len(classes))
	if len(classes) == 0 {
		return out, nil
	}
	var ids []shop.ClassID
	var kindIDs []shop.KindID
	for _, c := range classes {
		ids, kindIDs = append(ids, c.ID), append(kindIDs, c.KindID)
	}
	kinds, err := many[shop.ClassKind](db, "id", "id IN ?", kindIDs)
	if err != nil {
		return nil, err
	}
	prices, err := many[shop.Price](db, "from_at", "kind_id IN ?", kindIDs)
	if err != nil {
		return nil, err
	}
	var closed season.Closed // asked for only where bacon is made
	if slices.ContainsFunc(kinds, func(k shop.ClassKind) bool { return k.Slabs }) {
		if closed, err = closedForWork(db); err != nil {
			return nil, err
		}
	}
	room, err := roomOf(db, ids)
	if err != nil {
		return nil, err
	}
	byID := map[shop.KindID]*shop.ClassKind{}
	for i := range kinds {
		byID[kinds[i].ID] = &kinds[i]
	}
	for _, c := range classes {
		k := byID[c.KindID]
		if k == nil {
			return nil, shop.Missing("The kind of class")
		}
		r := room[c.ID]
		card := ClassCard{ID: c.ID, Code: c.Code, Title: c.Title, Kind: k.Code, KindName: k.Name, State: c.State, Private: c.Private,
			StartsAt: c.StartsAt, EndsAt: c.EndsAt, Day: c.Day, Seats: c.Seats, Taken: c.SeatsTaken, Left: c.Left(), Flat: c.FlatCents,
			Held: r.Held, HeldUntil: r.Until, Waiting: r.Waiting,
			Slabs: k.Slabs, Dinner: k.Dinner, OnSale: c.OnSale(now), MinSeats: c.MinSeats}
		card.price(k, prices, now)
		if k.Slabs {
			card.ReadyAbout = s.readyFrom(c.Day, closed)
		}
		out = append(out, card)
	}
	return out, nil
}

// A classRoom is what stands between a class and being free or full.
type classRoom struct {
	ID      shop.ClassID
	Held    int          // places somebody is paying for or was offered
	Until   unit.Instant // when the first of them may come free
	Waiting int          // parties on the waiting list
}

func roomOf(db *gorm.DB, ids []shop.ClassID) (map[shop.ClassID]classRoom, error) {
	var rows []classRoom
	err := db.Raw(`SELECT class_id AS id, count(*) AS held, 0 AS until, 0 AS waiting FROM seats WHERE class_id IN ? AND kind <> ? AND state IN ? GROUP BY class_id
		UNION ALL SELECT class_id, 0, min(CASE WHEN grace_until > until THEN grace_until ELSE until END), 0 FROM seat_holds WHERE class_id IN ? AND ended_at = 0 GROUP BY class_id
		UNION ALL SELECT class_id, 0, coalesce(min(NULLIF(offer_until, 0)), 0), count(*) FROM waiting_entries WHERE class_id IN ? AND ended_at = 0 GROUP BY class_id`,
		ids, shop.WatchSeat, []shop.BookingState{shop.Held, shop.Offered}, ids, ids).Scan(&rows).Error
	out := map[shop.ClassID]classRoom{}
	for _, r := range rows {
		sum := out[r.ID]
		sum.Held += r.Held
		sum.Waiting += r.Waiting
		if r.Until != 0 && (sum.Until == 0 || r.Until < sum.Until) {
			sum.Until = r.Until
		}
		out[r.ID] = sum
	}
	for id, r := range out {
		if r.Held == 0 {
			r.Until = 0
			out[id] = r
		}
	}
	return out, err
}

// prices fills in what the seats of a kind cost now and from when they cost more (R1).
func (s *Store) prices(db *gorm.DB, k *shop.ClassKind, now unit.Instant, card *ClassCard) error {
	rows, err := many[shop.Price](db, "from_at", "kind_id = ?", k.ID)
	card.price(k, rows, now)
	return err
}

// price reads the rows of its kind, which are in order of time.
func (card *ClassCard) price(k *shop.ClassKind, rows []shop.Price, now unit.Instant) {
	for _, p := range rows {
		switch {
		case p.KindID != k.ID:
		case p.From > now:
			if p.Seat == seatOf(k) && card.NextFrom == 0 {
				card.NextPrice, card.NextFrom = p.Cents, p.From
			}
		case p.Seat == seatOf(k):
			card.Price = p.Cents
		case p.Seat == shop.WatchSeat:
			card.WatchPrice = p.Cents
		case p.Seat == shop.SecondSlab:
			card.SecondPrice = p.Cents
		}
	}
}
