package store

import (
	"context"
	"slices"

	"flitchbook/api/shop"
	"flitchbook/planner/heat"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// RackMap is the cure cooler and what of the walk-in is given out.
type RackMap struct {
	Places   []RackPlace
	Overflow []RackPlace
	Used     int
	Total    int
	Rooms    []RoomLine
	Ahead    []RackSpan         // what the rack will want, with the seats sold
	Lost     []season.Placeless // seats on sale that have no place as things stand
	Spare    int                // places in the walk-in, given out by the owner only
}

// RackSpan is days that follow one another on which the rack wants the same.
type RackSpan struct {
	From, To unit.Day
	Used     int
	Places   int
	Parts    []season.RackPart
}

// Over is how many slabs have no place on the rack.
func (r RackSpan) Over() int { return max(r.Used-r.Places, 0) }

// rackAheadDays is how far the rack map looks.
const rackAheadDays = 28

// rackAhead counts what the rack will want from today on, seats sold and slabs that lie
// there, with the days the cold has added.
func (s *Store) rackAhead(ctx context.Context, m *RackMap) error {
	d, err := s.diary(s.read(ctx))
	if err != nil {
		return err
	}
	m.Spare, m.Lost = len(m.Overflow), d.Rules.Placeless(d.Season.Open, d.Season.Closed)
	today := s.Today()
	for _, day := range d.Rules.Rack(d.Season.Open, season.Sitting.Now, d.Season.Closed) {
		if day.Day < today || day.Day > today+rackAheadDays || day.Used == 0 {
			continue
		}
		if n := len(m.Ahead); n > 0 && m.Ahead[n-1].Used == day.Used && m.Ahead[n-1].To == day.Day-1 && slices.Equal(m.Ahead[n-1].Parts, day.Parts) {
			m.Ahead[n-1].To = day.Day
			continue
		}
		m.Ahead = append(m.Ahead, RackSpan{day.Day, day.Day, day.Used, d.Rules.Places, day.Parts})
	}
	return nil
}

// RackPlace is one place with what lies there.
type RackPlace struct {
	Code      string
	Tag       string // "" when free
	Name      string
	Class     string
	Day       int // in cure
	Of        int // days to the earliest unbag
	UnbagFrom unit.Day
	Latest    unit.Day
	Due       bool // may leave its bag today
	Late      bool // past its latest day
	Held      bool
	Leaked    bool // its bag was mended
	Again     bool // begun again after a leak
}

// RoomLine is a cold room's last reading and what the last day shows.
type RoomLine struct {
	Code, Name string
	At         unit.Instant
	Temp       unit.Temp
	Warm       bool // the last reading is above 41 °F
	Cold       bool // below 34 °F: cure stalls
	Gap        bool // more than an hour without a reading, now or in the last day
}

// RackMap reads the cure cooler as it is now.
func (s *Store) RackMap(ctx context.Context) (*RackMap, error) {
	var rows []struct {
		shop.Slab
		PlaceCode string
		PlaceKind shop.PlaceKind
		ClassCode string
		Guest     string
	}
	err := s.read(ctx).Raw(`SELECT coalesce(slabs.id, 0) AS id, coalesce(slabs.tag, '') AS tag, coalesce(slabs.state, '') AS state, slabs.sealed_on, slabs.unbag_from, coalesce(slabs.leaked_at, 0) AS leaked_at, coalesce(slabs.restarted_at, 0) AS restarted_at,
		places.code AS place_code, places.kind AS place_kind, coalesce(classes.code, '') AS class_code, coalesce(guests.name, '') AS guest
		FROM places LEFT JOIN placements ON placements.place_id = places.id AND placements.until_at = 0 LEFT JOIN slabs ON slabs.id = placements.slab_id
		LEFT JOIN classes ON classes.id = slabs.class_id LEFT JOIN seats ON seats.id = slabs.seat_id LEFT JOIN guests ON guests.id = seats.guest_id
		WHERE places.kind IN ? ORDER BY places.id`, []shop.PlaceKind{shop.Rack, shop.Overflow}).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	m, today := &RackMap{}, s.Today()
	for i := range rows {
		r := &rows[i]
		p := RackPlace{Code: r.PlaceCode, Tag: r.Tag}
		if r.Tag != "" {
			p.Name, p.Class = firstName(r.Guest), r.ClassCode
			if p.Name == "" {
				p.Name = "the shop"
			}
			p.Held = r.State == shop.OnHold
			p.Leaked, p.Again = r.LeakedAt != 0, r.RestartedAt != 0
			if r.SealedOn != 0 {
				p.Day, p.Of, p.UnbagFrom, p.Latest = s.dayInCure(&r.Slab, today), s.Rules.CureDays, r.UnbagFrom, r.SealedOn+unit.Day(s.Rules.LatestDay)
				p.Due, p.Late = r.UnbagFrom <= today && !p.Held, p.Latest < today
			}
		}
		if r.PlaceKind == shop.Rack {
			m.Total++
			if p.Tag != "" {
				m.Used++
			}
			m.Places = append(m.Places, p)
		} else {
			m.Overflow = append(m.Overflow, p)
		}
	}
	if m.Rooms, err = s.rooms(ctx); err != nil {
		return nil, err
	}
	return m, s.rackAhead(ctx, m)
}

// rooms reads the cold rooms' last day of readings. Gaps are shown as gaps (R33).
func (s *Store) rooms(ctx context.Context) ([]RoomLine, error) {
	rooms, err := many[shop.Room](s.read(ctx), "id", "id NOT IN (SELECT room_id FROM places WHERE kind = ?)", shop.Hook)
	if err != nil {
		return nil, err
	}
	var curing []shop.RoomID // cold matters where slabs cure, not in the freezer
	if err := s.read(ctx).Model(&shop.Place{}).Distinct("room_id").Where("kind IN ?", []shop.PlaceKind{shop.Rack, shop.Overflow}).Pluck("room_id", &curing).Error; err != nil {
		return nil, err
	}
	rule, now := heat.HouseCold(), s.Now()
	var out []RoomLine
	for _, rm := range rooms {
		log, err := roomLog(s.read(ctx), rm.ID, now-86400, now)
		if err != nil {
			return nil, err
		}
		l := RoomLine{Code: rm.Code, Name: rm.Name}
		if len(log) > 0 {
			last := log[len(log)-1]
			l.At, l.Temp, l.Warm, l.Cold = last.At, last.Temp, last.Temp > rule.Warm, last.Temp < rule.Stall && slices.Contains(curing, rm.ID)
			l.Gap = len(heat.Cold(rule, log, 0, now).Gaps) > 0
		} else {
			l.Gap = true
		}
		out = append(out, l)
	}
	return out, nil
}
