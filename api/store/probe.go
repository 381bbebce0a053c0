package store

import (
	"cmp"
	"context"
	"slices"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// Readings stores temperatures of a room. Sending the same again changes nothing; a
// different temperature for a moment already stored is refused, since nothing is
// overwritten. A run that breaks the limit puts every slab that lay in the room on hold
// at the reading that broke it and alarms the staff at once (R33). It returns the holds
// that opened.
func (s *Store) Readings(ctx context.Context, by shop.Actor, room string, in []heat.Reading) (opened []shop.HoldID, err error) {
	if len(in) == 0 || len(in) > 5000 {
		return nil, shop.Bad("readings", "Send between 1 and 5000 readings at a time.")
	}
	for _, r := range in {
		if r.At <= 0 || r.At > s.Now().Add(slowClock) {
			return nil, shop.Bad("readings", "A reading lies ahead of the shop's clock or has no time.")
		}
		if !roomTemp(r.Temp) {
			return nil, shop.Bad("readings", "%s cannot be the temperature of a room.", r.Temp.Show())
		}
	}
	err = s.tx(ctx, func(t tx) error {
		rm, err := t.lockRoom(room)
		if err != nil {
			return err
		}
		_, opened, err = t.takeReadings(rm, in)
		if c, ok := asClash(err); ok {
			return shop.Stop("reading_kept", "%s at %s is stored as %s; a reading is never overwritten.", rm.Name, c.At.Show(t.s.Loc), c.kept.Show())
		}
		return err
	})
	return opened, err
}

func (t tx) lockRoom(code string) (*shop.Room, error) {
	rm, err := take[shop.Room](t.DB, "Room "+code, "code = ?", trim(code))
	if err != nil {
		return nil, err
	}
	return rm, t.lock("rooms", int64(rm.ID))
}

// takeReadings stores what is new among readings and does what follows from it. It
// returns how many were new and the holds they opened.
func (t tx) takeReadings(rm *shop.Room, in []heat.Reading) (int, []shop.HoldID, error) {
	fresh, err := t.keepReadings(rm, in)
	if err != nil || len(fresh) == 0 {
		return 0, nil, err
	}
	cold, err := t.isColdRoom(rm.ID)
	if err != nil || !cold {
		return len(fresh), nil, err
	}
	opened, err := t.excursions(rm, fresh)
	if err != nil {
		return 0, nil, err
	}
	return len(fresh), opened, t.coldSpell(rm, fresh[0].At)
}

// A clash is a reading that says something else than the one stored for its moment.
type clash struct {
	heat.Reading
	kept unit.Temp
}

func (c *clash) Error() string { return "another reading is stored for this moment" }

// keepReadings stores the readings nobody has stored yet and returns them in order of
// time. Nothing is stored when one of them clashes.
func (t tx) keepReadings(rm *shop.Room, in []heat.Reading) ([]heat.Reading, error) {
	in = slices.Clone(in)
	slices.SortStableFunc(in, func(a, b heat.Reading) int { return cmp.Compare(a.At, b.At) })
	have, err := roomLog(t.DB, rm.ID, in[0].At, in[len(in)-1].At)
	if err != nil {
		return nil, err
	}
	known := make(map[unit.Instant]unit.Temp, len(have))
	for _, r := range have {
		known[r.At] = r.Temp
	}
	var fresh []heat.Reading
	var rows []shop.ProbeReading
	for _, r := range in {
		if kept, ok := known[r.At]; ok {
			if kept != r.Temp {
				return nil, &clash{r, kept}
			}
			continue
		}
		known[r.At] = r.Temp
		fresh, rows = append(fresh, r), append(rows, shop.ProbeReading{RoomID: rm.ID, At: r.At, Temp: r.Temp})
	}
	if len(rows) == 0 {
		return nil, nil
	}
	return fresh, t.CreateInBatches(rows, 500).Error
}

// isColdRoom says whether a room is one whose warmth is a fault. The smokehouse, where
// hooks are, is not.
func (t tx) isColdRoom(id shop.RoomID) (bool, error) {
	var hooks int64
	err := t.Model(&shop.Place{}).Where("room_id = ? AND kind = ?", id, shop.Hook).Count(&hooks).Error
	return hooks == 0, err
}

// roomLog reads a room's readings between two instants.
func roomLog(db *gorm.DB, id shop.RoomID, from, to unit.Instant) ([]heat.Reading, error) {
	rows, err := many[shop.ProbeReading](db, "at", "room_id = ? AND at BETWEEN ? AND ?", id, from, to)
	out := make([]heat.Reading, len(rows))
	for i, r := range rows {
		out[i] = heat.Reading{At: r.At, Temp: r.Temp}
	}
	return out, err
}

// excursions opens a hold for each run that breaks the limit and has none yet. A run is
// read from its beginning, or from where the last hold on the room was closed: a
// decision covers what it looked at, not what comes after. What arrives late, from before
// that decision, it did not look at either: it opens a hold where none was, and where it
// is worse than what was decided on.
func (t tx) excursions(rm *shop.Room, fresh []heat.Reading) ([]shop.HoldID, error) {
	rule := heat.HouseCold()
	from, err := t.lastAt("SELECT max(at) FROM probe_readings WHERE room_id = ? AND at < ? AND temp <= ?", rm.ID, fresh[0].At, rule.Warm)
	if err != nil {
		return nil, err
	}
	closed, err := t.lastAt("SELECT max(closed_at) FROM holds WHERE room_id = ? AND closed_at <> 0 AND closed_at <= ?", rm.ID, t.now)
	if err != nil {
		return nil, err
	}
	readings, err := roomLog(t.DB, rm.ID, from, t.now.Add(slowClock))
	if err != nil {
		return nil, err
	}
	var opened []shop.HoldID
	open := func(run heat.Run) error {
		h, err := t.holdFor(rm, run)
		if err != nil || h == nil {
			return err
		}
		opened = append(opened, h.ID)
		return nil
	}
	if fresh[0].At <= closed {
		for _, run := range heat.Cold(rule, readings, 0, 0).Runs {
			if run.Hold == nil || run.First > closed || !late(run, fresh, closed) {
				continue
			}
			decided, err := t.heldWithin(rm, run.First, run.Last)
			if err != nil {
				return nil, err
			}
			if decided && !peaksAmong(run, fresh) {
				continue
			}
			if err := open(run); err != nil {
				return nil, err
			}
		}
	}
	since := slices.DeleteFunc(slices.Clone(readings), func(r heat.Reading) bool { return r.At < closed })
	for _, run := range heat.Cold(rule, since, 0, 0).Runs {
		if run.Hold == nil {
			continue
		}
		decided, err := t.heldWithin(rm, run.First, run.Last)
		if err != nil {
			return nil, err
		}
		if decided {
			continue
		}
		if err := open(run); err != nil {
			return nil, err
		}
	}
	return opened, nil
}

// late says whether a run has a reading that came after the decision over its time.
func late(run heat.Run, fresh []heat.Reading, closed unit.Instant) bool {
	return slices.ContainsFunc(fresh, func(r heat.Reading) bool { return r.At >= run.First && r.At <= run.Last && r.At <= closed })
}

// peaksAmong says whether the warmest of a run has only now become known.
func peaksAmong(run heat.Run, fresh []heat.Reading) bool {
	return slices.ContainsFunc(fresh, func(r heat.Reading) bool { return r.At == run.PeakAt })
}

func (t tx) heldWithin(rm *shop.Room, from, to unit.Instant) (bool, error) {
	var n int64
	err := t.Model(&shop.Hold{}).Where("room_id = ? AND opened_at BETWEEN ? AND ?", rm.ID, from, to).Count(&n).Error
	return n > 0, err
}

// holdFor opens a hold for a run on the slabs that lay in the room when it broke the
// limit. While a hold on the room is open only those it does not cover yet need another.
func (t tx) holdFor(rm *shop.Room, run heat.Run) (*shop.Hold, error) {
	var open int64
	if err := t.Model(&shop.Hold{}).Where("room_id = ? AND state = ?", rm.ID, shop.HoldOpen).Count(&open).Error; err != nil {
		return nil, err
	}
	slabs, err := many[shop.Slab](t.DB, "id", `id IN (SELECT slab_id FROM placements JOIN places ON places.id = placements.place_id WHERE places.room_id = ? AND since <= ? AND (until_at = 0 OR until_at > ?))
		AND id NOT IN (SELECT hs.slab_id FROM hold_slabs hs JOIN holds h ON h.id = hs.hold_id WHERE h.room_id = ? AND h.state = ?)`,
		rm.ID, run.Hold.At, run.Hold.At, rm.ID, shop.HoldOpen)
	if err != nil || open > 0 && len(slabs) == 0 {
		return nil, err
	}
	return t.openHold(shop.Itself(), rm, run.Hold.At, rm.Name+" "+run.Hold.Reason, slabs)
}

func (t tx) lastAt(query string, args ...any) (unit.Instant, error) {
	var at *unit.Instant
	err := t.Raw(query, args...).Scan(&at).Error
	if at == nil {
		return 0, err
	}
	return *at, err
}

// coldSpell works the earliest unbag day of the slabs in a room out anew when the cure
// may have stalled (R27), and with it when they can be smoked. The promise to their
// people stays until the owner tells them.
func (t tx) coldSpell(rm *shop.Room, first unit.Instant) error {
	rule := heat.HouseCold()
	var n int64
	// The reading before the first new one stands until it.
	err := t.Model(&shop.ProbeReading{}).Where("room_id = ? AND temp < ? AND at >= coalesce((SELECT max(at) FROM probe_readings WHERE room_id = ? AND at < ?), 0)",
		rm.ID, rule.Stall, rm.ID, first).Count(&n).Error
	if err != nil || n == 0 {
		return err
	}
	slabs, err := many[shop.Slab](t.DB, "id", `(state = ? OR state = ? AND held_from = ?)
		AND id IN (SELECT slab_id FROM placements JOIN places ON places.id = placements.place_id WHERE places.room_id = ? AND (until_at = 0 OR until_at > ?))`,
		shop.InCure, shop.OnHold, shop.InCure, rm.ID, first)
	if err != nil {
		return err
	}
	logs := roomLogs{}
	for i := range slabs {
		if err := t.delay(&slabs[i], logs); err != nil {
			return err
		}
	}
	return nil
}

func (t tx) delay(sl *shop.Slab, logs roomLogs) error {
	cold, err := t.coldTime(sl.ID, logs)
	if err != nil {
		return err
	}
	c, err := t.chainFrom(0, sl.SealedOn, cold)
	if err != nil || c.Earliest == sl.UnbagFrom {
		return err
	}
	set := map[string]any{"unbag_from": c.Earliest}
	if sl.SmokeOn == 0 || sl.SmokeOn <= c.Earliest {
		set["smoke_on"] = c.Smoke
	}
	return t.Model(&shop.Slab{}).Where("id = ?", sl.ID).Updates(set).Error
}

// roomLogs are readings that were read already, by room: slabs of one class lay side by
// side, and each asks for nearly the same weeks of readings.
type roomLogs map[shop.RoomID]roomSpan

type roomSpan struct {
	from, to unit.Instant
	readings []heat.Reading
}

func (logs roomLogs) read(db *gorm.DB, id shop.RoomID, from, to unit.Instant) ([]heat.Reading, error) {
	span, ok := logs[id]
	if !ok || from < span.from || to > span.to {
		readings, err := roomLog(db, id, from, to)
		if err != nil {
			return nil, err
		}
		span = roomSpan{from, to, readings}
		logs[id] = span
	}
	at := func(r heat.Reading, t unit.Instant) int { return cmp.Compare(r.At, t) }
	first, _ := slices.BinarySearchFunc(span.readings, from, at)
	last, _ := slices.BinarySearchFunc(span.readings, to+1, at)
	return span.readings[first:last], nil
}

// coldTime is how long the rooms a slab has lain in were too cold for the cure to work.
func (t tx) coldTime(id shop.SlabID, logs roomLogs) (time.Duration, error) {
	var stays []struct {
		RoomID  shop.RoomID
		Since   unit.Instant
		UntilAt unit.Instant
	}
	if err := t.Raw("SELECT places.room_id, placements.since, placements.until_at FROM placements JOIN places ON places.id = placements.place_id WHERE placements.slab_id = ? AND placements.since >= (SELECT restarted_at FROM slabs WHERE id = ?) ORDER BY placements.since", id, id).Scan(&stays).Error; err != nil {
		return 0, err
	}
	var cold time.Duration
	for _, st := range stays {
		until := st.UntilAt
		if until == 0 {
			until = t.now
		}
		// The reading before the slab came stands until the next.
		from, err := t.lastAt("SELECT max(at) FROM probe_readings WHERE room_id = ? AND at <= ?", st.RoomID, st.Since)
		if err != nil {
			return 0, err
		}
		readings, err := logs.read(t.DB, st.RoomID, from, until)
		if err != nil {
			return 0, err
		}
		cold += heat.ColdTime(heat.HouseCold(), readings, st.Since, until)
	}
	return cold, nil
}
