package store

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// RoomLog is what a room's thermometer wrote over a span of days, with what was missing,
// what was too warm or too cold, the holds that came of it and who decided what.
type RoomLog struct {
	Room     shop.Room
	Cures    bool // slabs cure here: cold matters
	Day      unit.Day
	Days     int
	From, To unit.Instant // midnight to midnight on the shop's clocks
	Seen     unit.Instant // until when readings could be expected
	First    unit.Instant // of all readings of the room; 0 for none
	Rule     heat.ColdRule
	Readings []heat.Reading // within the span
	Runs     []heat.Run     // above the limit, whole even where they reach over the span
	Gaps     []RoomGap
	Spells   []heat.Spell // too cold for the cure to work
	Cold     time.Duration
	Holds    []RoomHold
	Notes    []shop.RoomNote
}

// RoomGap is a stretch without readings. It asks until somebody has said why.
type RoomGap struct {
	heat.Gap
	Said []shop.RoomNote
}

// RoomHold is a hold on the room, the slabs it covers and what was decided on it.
type RoomHold struct {
	shop.Hold
	Tags    []string
	Decided []shop.History
}

// longestLog is the most days one page shows.
const longestLog = 31

// RoomLog reads a room's log from a day on.
func (s *Store) RoomLog(ctx context.Context, code string, day unit.Day, days int) (*RoomLog, error) {
	if days < 1 || days > longestLog {
		return nil, shop.Bad("days", "Show between 1 and %d days at a time.", longestLog)
	}
	db := s.read(ctx)
	rm, err := take[shop.Room](db, "Room "+code, "code = ?", trim(code))
	if err != nil {
		return nil, err
	}
	l := &RoomLog{Room: *rm, Day: day, Days: days, From: day.At(0, 0, s.Loc), To: (day + unit.Day(days)).At(0, 0, s.Loc), Rule: heat.HouseCold()}
	l.Seen = min(l.To, s.Now())
	if l.Cures, err = cures(db, rm.ID); err != nil {
		return nil, err
	}
	all, err := s.logAround(db, l)
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		if r.At >= l.From && r.At < l.To {
			l.Readings = append(l.Readings, r)
		}
	}
	if l.Notes, err = many[shop.RoomNote](db, "from_at, id", "room_id = ? AND from_at < ? AND to_at >= ?", rm.ID, l.To, l.From); err != nil {
		return nil, err
	}
	l.account(all)
	return l, s.roomHolds(db, l)
}

// logAround reads the span and, on either side, as far as a run or a gap could reach.
func (s *Store) logAround(db *gorm.DB, l *RoomLog) ([]heat.Reading, error) {
	var edge struct{ First, Before, After *unit.Instant }
	err := db.Raw(`SELECT (SELECT min(at) FROM probe_readings WHERE room_id = ?) AS first,
		(SELECT max(at) FROM probe_readings WHERE room_id = ? AND at < ? AND temp <= ?) AS before,
		(SELECT min(at) FROM probe_readings WHERE room_id = ? AND at >= ? AND temp <= ?) AS after`,
		l.Room.ID, l.Room.ID, l.From, l.Rule.Warm, l.Room.ID, l.To, l.Rule.Warm).Scan(&edge).Error
	if err != nil {
		return nil, err
	}
	from, to := l.From, l.To
	if edge.First != nil {
		l.First = *edge.First
	}
	if edge.Before != nil {
		from = *edge.Before
	} else if l.First != 0 {
		from = min(from, l.First)
	}
	if edge.After != nil {
		to = *edge.After
	} else {
		to = max(to, s.Now().Add(slowClock))
	}
	return roomLog(db, l.Room.ID, from, to)
}

func (l *RoomLog) account(all []heat.Reading) {
	a := heat.Cold(l.Rule, all, 0, l.Seen)
	for _, r := range a.Runs {
		if r.First < l.To && r.Last >= l.From {
			l.Runs = append(l.Runs, r)
		}
	}
	for _, g := range a.Gaps {
		if g.From >= l.To || g.To <= l.From {
			continue
		}
		rg := RoomGap{Gap: g}
		for _, n := range l.Notes {
			if n.From < g.To && n.To >= g.From {
				rg.Said = append(rg.Said, n)
			}
		}
		l.Gaps = append(l.Gaps, rg)
	}
	if l.Cures {
		l.Spells = heat.ColdSpells(l.Rule, all, l.From, l.Seen)
		l.Cold = heat.ColdTime(l.Rule, all, l.From, l.Seen)
	}
}

func (s *Store) roomHolds(db *gorm.DB, l *RoomLog) error {
	holds, err := many[shop.Hold](db, "opened_at, id", "room_id = ? AND opened_at < ? AND (closed_at = 0 OR closed_at >= ?)", l.Room.ID, l.To, l.From)
	if err != nil {
		return err
	}
	for _, h := range holds {
		v := RoomHold{Hold: h}
		if err := db.Raw("SELECT tag FROM slabs WHERE id IN (SELECT slab_id FROM hold_slabs WHERE hold_id = ?) ORDER BY class_id, number", h.ID).Scan(&v.Tags).Error; err != nil {
			return err
		}
		if v.Decided, err = many[shop.History](db, "id", "subject = ? AND subject_id = ? AND what <> ?", "hold", h.ID, "opened"); err != nil {
			return err
		}
		l.Holds = append(l.Holds, v)
	}
	return nil
}

// cures says whether slabs cure in a room.
func cures(db *gorm.DB, id shop.RoomID) (bool, error) {
	var n int64
	err := db.Model(&shop.Place{}).Where("room_id = ? AND kind IN ?", id, []shop.PlaceKind{shop.Rack, shop.Overflow}).Count(&n).Error
	return n > 0, err
}

// NoteRoom keeps what somebody says of a stretch of a room's log: why readings are
// missing, or what one is worth. The readings stay as they are.
func (s *Store) NoteRoom(ctx context.Context, by shop.Actor, code string, from, to unit.Instant, text string) error {
	var w shop.Wrong
	text = trim(text)
	if n := len([]rune(text)); n == 0 || n > 1000 {
		w.Add("text", "Say it in up to 1000 letters; it stands in the record with your name.")
	}
	switch {
	case from == 0:
		w.Add("from", "Say from when.")
	case to != 0 && to < from:
		w.Add("to", "That is before the beginning.")
	case from > s.Now():
		w.Add("from", "That lies ahead.")
	}
	if err := w.Err(); err != nil {
		return err
	}
	if to == 0 {
		to = from
	}
	return s.tx(ctx, func(t tx) error {
		rm, err := t.lockRoom(code)
		if err != nil {
			return err
		}
		return t.Create(&shop.RoomNote{RoomID: rm.ID, From: from, To: to, Text: text, Actor: by.Name, At: t.now}).Error
	})
}

// gapsToExplain lists the gaps of the last two days that nobody has said anything about,
// for the owner (R33): a gap is asked about, it is not a hold by itself.
func (s *Store) gapsToExplain(db *gorm.DB, now unit.Instant) ([]string, error) {
	rooms, err := many[shop.Room](db, "id", "EXISTS (SELECT 1 FROM probe_readings WHERE room_id = rooms.id) AND id NOT IN (SELECT room_id FROM places WHERE kind = ?)", shop.Hook)
	if err != nil {
		return nil, err
	}
	var lines []string
	for _, rm := range rooms {
		from := now - 2*86400
		before, err := tx{DB: db, s: s}.lastAt("SELECT max(at) FROM probe_readings WHERE room_id = ? AND at <= ?", rm.ID, from)
		if err != nil {
			return nil, err
		}
		first := from
		if before != 0 {
			first = before
		}
		log, err := roomLog(db, rm.ID, first, now)
		if err != nil {
			return nil, err
		}
		for _, g := range heat.Cold(heat.HouseCold(), log, before, now).Gaps {
			var said int64
			if err := db.Model(&shop.RoomNote{}).Where("room_id = ? AND from_at < ? AND to_at >= ?", rm.ID, g.To, g.From).Count(&said).Error; err != nil {
				return nil, err
			}
			if said > 0 || g.To <= from {
				continue
			}
			until := g.To.Show(s.Loc)
			if g.To == now {
				until = "now"
			}
			lines = append(lines, rm.Name+": NO READINGS from "+g.From.Show(s.Loc)+" to "+until+"; what happened?")
		}
	}
	return lines, nil
}

// Rooms lists the shop's rooms that are kept cold, with their last reading.
func (s *Store) Rooms(ctx context.Context) ([]RoomLine, error) { return s.rooms(ctx) }

// AddRoom adds a cold room.
func (s *Store) AddRoom(ctx context.Context, by shop.Actor, code, name string) error {
	if !by.May(shop.Owner) {
		return shop.ErrNotAllowed
	}
	code, name = strings.ToLower(trim(code)), trim(name)
	var w shop.Wrong
	if !plainCode(code) {
		w.Add("code", "Write a short code of letters, numbers and hyphens, such as cellar.")
	}
	if n := len([]rune(name)); n == 0 || n > 60 {
		w.Add("name", "Say what people call the room.")
	}
	if err := w.Err(); err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		rm := shop.Room{Code: code, Name: name}
		if err := t.Create(&rm).Error; err != nil {
			if isDuplicate(err) {
				return field("code", "There is a room with this code already.")
			}
			return err
		}
		return t.note(by, "room", int64(rm.ID), "added", "", code, name)
	})
}

// placeKinds are the places the owner adds. Hooks belong to the smokehouse's plan.
var placeKinds = []shop.PlaceKind{shop.Rack, shop.Overflow, shop.Shelf, shop.Freezer}

// AddPlaces adds places to a room: a prefix and the numbers that follow the last one in
// use, such as R37 to R40.
func (s *Store) AddPlaces(ctx context.Context, by shop.Actor, room string, kind shop.PlaceKind, prefix string, n int) ([]string, error) {
	if !by.May(shop.Owner) {
		return nil, shop.ErrNotAllowed
	}
	prefix = strings.ToUpper(trim(prefix))
	var w shop.Wrong
	if !slices.Contains(placeKinds, kind) {
		w.Add("kind", "Choose rack, overflow, shelf or freezer.")
	}
	if !plainCode(prefix) || strings.IndexFunc(prefix, func(r rune) bool { return r >= '0' && r <= '9' }) >= 0 {
		w.Add("prefix", "Write the letters the places begin with, such as R.")
	}
	if n < 1 || n > 200 {
		w.Add("count", "Add between 1 and 200 places at a time.")
	}
	if err := w.Err(); err != nil {
		return nil, err
	}
	var codes []string
	err := s.tx(ctx, func(t tx) error {
		codes = nil
		rm, err := t.lockRoom(room)
		if err != nil {
			return err
		}
		var used []string
		if err := t.Model(&shop.Place{}).Where("upper(code) LIKE ?", prefix+"%").Pluck("code", &used).Error; err != nil {
			return err
		}
		var others int64
		if err := t.Model(&shop.Place{}).Where("room_id = ? AND kind = ?", rm.ID, shop.Hook).Count(&others).Error; err != nil {
			return err
		}
		if others > 0 {
			return field("kind", "Hooks hang in this room; no slab is kept cold here.")
		}
		last := 0
		for _, c := range used {
			if k, ok := numberAfter(c, prefix); ok {
				last = max(last, k)
			}
		}
		for i := 1; i <= n; i++ {
			p := shop.Place{RoomID: rm.ID, Kind: kind, Code: prefix + strconv.Itoa(last+i)}
			if err := t.Create(&p).Error; err != nil {
				return err
			}
			codes = append(codes, p.Code)
		}
		return t.note(by, "room", int64(rm.ID), "places added", "", codes[0]+" to "+codes[len(codes)-1], string(kind))
	})
	return codes, err
}

// plainCode says whether a code is short and made of letters, numbers and hyphens.
func plainCode(code string) bool {
	return code != "" && len(code) <= 20 && strings.IndexFunc(code, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-')
	}) < 0
}

func numberAfter(code, prefix string) (int, bool) {
	rest, ok := strings.CutPrefix(strings.ToUpper(code), prefix)
	n, err := strconv.Atoi(rest)
	return n, ok && err == nil
}
