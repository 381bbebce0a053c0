package store

import (
	"cmp"
	"context"
	"errors"
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
		if r.Temp < -60*unit.Fahrenheit || r.Temp > 600*unit.Fahrenheit {
			return nil, shop.Bad("readings", "%s cannot be the temperature of a room.", r.Temp.Show())
		}
	}
	err = s.tx(ctx, func(t tx) error {
		opened = nil
		rm, err := take[shop.Room](t.DB, "Room "+room, "code = ?", trim(room))
		if err != nil {
			return err
		}
		if err := t.lock("rooms", int64(rm.ID)); err != nil {
			return err
		}
		first, fresh, err := t.keepReadings(rm, in)
		if err != nil || !fresh {
			return err
		}
		cold, err := t.isColdRoom(rm.ID)
		if err != nil || !cold {
			return err
		}
		if opened, err = t.excursions(rm, first); err != nil {
			return err
		}
		return t.coldSpell(rm, first)
	})
	return opened, err
}

func (t tx) keepReadings(rm *shop.Room, in []heat.Reading) (first unit.Instant, fresh bool, err error) {
	for _, r := range in {
		if first == 0 || r.At < first {
			first = r.At
		}
		var old shop.ProbeReading
		err := t.Where("room_id = ? AND at = ?", rm.ID, r.At).Take(&old).Error
		switch {
		case err == nil && old.Temp != r.Temp:
			return 0, false, shop.Stop("reading_kept", "%s at %s is stored as %s; a reading is never overwritten.", rm.Name, r.At.Show(t.s.Loc), old.Temp.Show())
		case err == nil:
			continue
		case !errors.Is(err, gorm.ErrRecordNotFound):
			return 0, false, err
		}
		if err := t.Create(&shop.ProbeReading{RoomID: rm.ID, At: r.At, Temp: r.Temp}).Error; err != nil {
			return 0, false, err
		}
		fresh = true
	}
	return first, fresh, nil
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
// decision covers what it looked at, not what comes after.
func (t tx) excursions(rm *shop.Room, first unit.Instant) ([]shop.HoldID, error) {
	rule := heat.HouseCold()
	from, err := t.lastAt("SELECT max(at) FROM probe_readings WHERE room_id = ? AND at < ? AND temp <= ?", rm.ID, first, rule.Warm)
	if err != nil {
		return nil, err
	}
	closed, err := t.lastAt("SELECT max(closed_at) FROM holds WHERE room_id = ? AND closed_at <> 0 AND closed_at <= ?", rm.ID, t.now)
	if err != nil {
		return nil, err
	}
	readings, err := roomLog(t.DB, rm.ID, max(from, closed), t.now.Add(slowClock))
	if err != nil {
		return nil, err
	}
	var opened []shop.HoldID
	for _, run := range heat.Cold(rule, readings, 0, 0).Runs {
		if run.Hold == nil {
			continue
		}
		var n int64
		if err := t.Model(&shop.Hold{}).Where("room_id = ? AND (state = ? OR opened_at BETWEEN ? AND ?)", rm.ID, shop.HoldOpen, run.First, run.Last).Count(&n).Error; err != nil {
			return nil, err
		}
		if n > 0 {
			continue
		}
		slabs, err := many[shop.Slab](t.DB, "id", "id IN (SELECT slab_id FROM placements JOIN places ON places.id = placements.place_id WHERE places.room_id = ? AND since <= ? AND (until_at = 0 OR until_at > ?))", rm.ID, run.Hold.At, run.Hold.At)
		if err != nil {
			return nil, err
		}
		h, err := t.openHold(shop.Itself(), rm, run.Hold.At, rm.Name+" "+run.Hold.Reason, slabs)
		if err != nil {
			return nil, err
		}
		opened = append(opened, h.ID)
	}
	return opened, nil
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
	if err := t.Raw("SELECT places.room_id, placements.since, placements.until_at FROM placements JOIN places ON places.id = placements.place_id WHERE placements.slab_id = ? ORDER BY placements.since", id).Scan(&stays).Error; err != nil {
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
