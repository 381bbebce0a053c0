package story

import (
	"context"
	"fmt"
	"time"

	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// The thermometers of the invented rooms write every quarter of an hour, except while the
// story tells what they showed itself.

// probesFrom is when they were put up.
const probesFrom = "2026-10-08 00:00"

// quarter is how often they write (R33).
const quarter = unit.Instant(15 * time.Minute / time.Second)

// usual is what a room shows on an ordinary day.
var usual = []struct {
	room string
	temp unit.Temp
}{{"cure", 3700}, {"walk-in", 3760}, {"counter", 3790}, {"freezer", -150}}

type span struct {
	room     string
	from, to unit.Instant // both included
}

// told lists the spans whose readings are events of their own.
func (p *Player) told() ([]span, error) {
	var out []span
	for _, e := range p.ahead {
		s := span{room: e.Room, from: e.at}
		var err error
		switch e.Do {
		case "cold":
			s.to, err = p.moment(e.Until)
		case "warm":
			s.to, err = p.moment(e.Event.At[:11] + e.Readings[len(e.Readings)-1][0])
		default:
			continue
		}
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// probes writes what the thermometers showed up to now.
func (p *Player) probes(ctx context.Context) error {
	now := p.Store.Now()
	if p.probed == 0 {
		from, err := p.moment(probesFrom)
		if err != nil {
			return err
		}
		p.probed = from - quarter
	}
	var at []unit.Instant
	for next := p.probed + quarter; next <= now; next += quarter {
		at = append(at, next)
		p.probed = next
	}
	for _, u := range usual {
		var in []heat.Reading
		for _, t := range at {
			if p.isTold(u.room, t) {
				continue
			}
			in = append(in, heat.Reading{At: t, Temp: u.temp + unit.Temp(vary(fmt.Sprint(u.room, t), 14)*10)})
		}
		for len(in) > 0 {
			n := min(len(in), 1000)
			if _, err := p.Store.Readings(ctx, probe, u.room, in[:n]); err != nil {
				return err
			}
			in = in[n:]
		}
	}
	return nil
}

func (p *Player) isTold(room string, at unit.Instant) bool {
	for _, s := range p.spans {
		if s.room == room && at >= s.from && at <= s.to {
			return true
		}
	}
	return false
}
