package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// DayFolder is one date as an inspector asks for it: everything that was written down,
// with who did it. Nothing in it is overwritten; what was corrected stands as added.
type DayFolder struct {
	Day      unit.Day
	Keep     unit.Day // the papers of this day are kept to then at least
	Meat     []DayMeat
	Scales   []DayScale
	WeighOut []DayWeighed
	Rooms    []RoomLog
	Holds    []DayHold
	Refused  []DayStep // done during a hold, or otherwise not counted
	Smoked   []DayStep
	Loads    []LoadLog // of that day's smoke, or whose chill reached into the day
	Packed   []DayStep
	Labels   int // packets labelled
	HandedAt int // packets handed out
	Added    []DayStep
	Ground   GrindLog
	Signed   []DaySigned
}

// DayMeat is one delivery of the day.
type DayMeat struct {
	shop.Delivery
	Order   int
	Farm    string
	Species string
	Plant   string
	Pieces  []string `gorm:"-"` // "HB-612 L 100.6 lb"
	Keep    unit.Day `gorm:"-"`
}

// DayScale is one check of a scale.
type DayScale struct {
	shop.ScaleCheck
	Name string
}

// DayWeighed is a weigh-out beside its ticket and its limits.
type DayWeighed struct {
	shop.WeighOut
	Tag       string
	Scale     string
	Green     unit.Weight
	Basis     unit.Weight
	Wanted    unit.Weight // curing salt on the ticket
	LimitPPM  unit.Ratio
	FloorPPM  unit.Ratio
	RecipeKey string
}

// Off is how far the curing salt is off its ticket, in hundredths of a percent.
func (d DayWeighed) Off() string {
	if d.Wanted == 0 {
		return ""
	}
	diff, sign := int64(d.Cure)-int64(d.Wanted), "+"
	if diff < 0 {
		diff, sign = -diff, "-"
	}
	tenths := (diff*2000/int64(d.Wanted) + 1) / 2
	return fmt.Sprintf("%s%d.%d %%", sign, tenths/10, tenths%10)
}

// Limits are the two ends the nitrite has to stay between.
func (d DayWeighed) Limits() string {
	return cure.PPM(int64(d.FloorPPM)*1000).Show() + " to " + cure.PPM(int64(d.LimitPPM)*1000).Show()
}

// DayHold is a hold that stood on the day, with every decision on it, whenever it came.
type DayHold struct {
	shop.Hold
	Room    string
	Tags    []string
	Decided []shop.History
}

// DayStep is a step of a slab.
type DayStep struct {
	shop.Step
	Tag string
}

// Late says whether a step was received more than five minutes after it was done.
func (d DayStep) Late() bool { return d.ReceivedAt > d.DoneAt+300 }

// DaySigned is a person and what they did on the day.
type DaySigned struct {
	Name  string
	What  []string
	First unit.Instant
	Last  unit.Instant
}

// DayFolder reads everything of one date.
func (s *Store) DayFolder(ctx context.Context, day unit.Day) (*DayFolder, error) {
	if day > s.Today() {
		return nil, shop.Bad("day", "%s lies ahead: its folder is empty.", day.ShowYear())
	}
	db := s.read(ctx)
	d := &DayFolder{Day: day, Keep: inspection.KeepPurchase(day)}
	from, to := day.At(0, 0, s.Loc), (day+1).At(0, 0, s.Loc)
	for _, part := range []func() error{
		func() error { return s.dayMeat(db, d) },
		func() error {
			return db.Raw("SELECT scale_checks.*, scales.name FROM scale_checks JOIN scales ON scales.id = scale_checks.scale_id WHERE scale_checks.at >= ? AND scale_checks.at < ? ORDER BY scale_checks.at, scale_checks.id", from, to).Scan(&d.Scales).Error
		},
		func() error {
			return db.Raw(`SELECT weigh_outs.*, slabs.tag, scales.name AS scale, cure_tickets.green, cure_tickets.basis, cure_tickets.cure AS wanted, recipes."limit" AS limit_ppm, recipes.floor AS floor_ppm, recipes.code AS recipe_key FROM weigh_outs JOIN slabs ON slabs.id = weigh_outs.slab_id
				JOIN scales ON scales.id = weigh_outs.scale_id JOIN cure_tickets ON cure_tickets.id = weigh_outs.ticket_id JOIN recipes ON recipes.id = cure_tickets.recipe_id WHERE weigh_outs.at >= ? AND weigh_outs.at < ? ORDER BY weigh_outs.at, weigh_outs.id`, from, to).Scan(&d.WeighOut).Error
		},
		func() error { return s.dayRooms(ctx, db, d) },
		func() error { return s.dayHolds(db, d, from, to) },
		func() error { return s.daySteps(db, d, from, to) },
		func() error { return s.dayLoads(db, d, from, to) },
		func() error {
			log, err := s.grindLog(db, from, to)
			if err == nil {
				d.Ground = *log
			}
			return err
		},
	} {
		if err := part(); err != nil {
			return nil, fmt.Errorf("folder of %s: %w", day, err)
		}
	}
	d.sign()
	return d, nil
}

func (s *Store) dayMeat(db *gorm.DB, d *DayFolder) error {
	err := db.Raw(`SELECT deliveries.*, orders.number AS "order", farms.name AS farm, orders.species, plants.name AS plant FROM deliveries JOIN orders ON orders.id = deliveries.order_id JOIN farms ON farms.id = orders.farm_id
		JOIN kill_days ON kill_days.id = orders.kill_day_id JOIN plants ON plants.id = kill_days.plant_id WHERE deliveries.day = ? ORDER BY deliveries.id`, d.Day).Scan(&d.Meat).Error
	if err != nil {
		return err
	}
	for i := range d.Meat {
		m := &d.Meat[i]
		m.Keep = inspection.KeepPurchase(m.Day)
		var rows []meatRow
		if err := db.Raw(meatOf+"WHERE deliveries.id = ? ORDER BY animals.number, sides.id", m.ID).Scan(&rows).Error; err != nil {
			return err
		}
		for _, r := range rows {
			m.Pieces = append(m.Pieces, r.animal()+" "+r.Which+" "+r.Cold.LB())
		}
	}
	return nil
}

// dayRooms reads the cold rooms that have a thermometer.
func (s *Store) dayRooms(ctx context.Context, db *gorm.DB, d *DayFolder) error {
	var codes []string
	err := db.Raw("SELECT code FROM rooms WHERE EXISTS (SELECT 1 FROM probe_readings WHERE room_id = rooms.id) AND id NOT IN (SELECT room_id FROM places WHERE kind = ?) ORDER BY id", shop.Hook).Scan(&codes).Error
	if err != nil {
		return err
	}
	for _, code := range codes {
		l, err := s.RoomLog(ctx, code, d.Day, 1)
		if err != nil {
			return err
		}
		if l.First != 0 && l.First < l.To {
			d.Rooms = append(d.Rooms, *l)
		}
	}
	return nil
}

func (s *Store) dayHolds(db *gorm.DB, d *DayFolder, from, to unit.Instant) error {
	holds, err := many[shop.Hold](db, "opened_at, id", "opened_at < ? AND (closed_at = 0 OR closed_at >= ?)", to, from)
	if err != nil {
		return err
	}
	for _, h := range holds {
		v := DayHold{Hold: h}
		if h.RoomID != 0 {
			if err := db.Raw("SELECT name FROM rooms WHERE id = ?", h.RoomID).Scan(&v.Room).Error; err != nil {
				return err
			}
		}
		if err := db.Raw("SELECT tag FROM slabs WHERE id IN (SELECT slab_id FROM hold_slabs WHERE hold_id = ?) ORDER BY class_id, number", h.ID).Scan(&v.Tags).Error; err != nil {
			return err
		}
		if v.Decided, err = many[shop.History](db, "id", "subject = ? AND subject_id = ? AND what <> ?", "hold", h.ID, "opened"); err != nil {
			return err
		}
		d.Holds = append(d.Holds, v)
	}
	return nil
}

func (s *Store) daySteps(db *gorm.DB, d *DayFolder, from, to unit.Instant) error {
	var steps []DayStep
	err := db.Raw("SELECT steps.*, slabs.tag FROM steps JOIN slabs ON slabs.id = steps.slab_id WHERE steps.done_at >= ? AND steps.done_at < ? ORDER BY steps.done_at, steps.id", from, to).Scan(&steps).Error
	if err != nil {
		return err
	}
	for _, st := range steps {
		hold := st.To == shop.OnHold || st.From == shop.OnHold
		switch {
		case !st.Counted && st.From != st.To:
			d.Refused = append(d.Refused, st)
		case !st.Counted:
		case st.To == shop.InSmoke && st.From != shop.InSmoke && !hold, st.To == shop.Resting && st.From != shop.Resting && !hold:
			d.Smoked = append(d.Smoked, st)
		case st.To == shop.Packed && st.From != shop.Packed && !hold:
			d.Packed = append(d.Packed, st)
			d.Labels++
		case st.To == shop.Collected:
			d.HandedAt++
		}
		if !hold && (trim(st.Reason) != "" || st.Late()) {
			d.Added = append(d.Added, st)
		}
		d.signed(st.Actor, "steps of slabs", st.DoneAt)
	}
	return nil
}

// dayLoads reads the logs of the loads that were smoked or still chilling on the day.
func (s *Store) dayLoads(db *gorm.DB, d *DayFolder, from, to unit.Instant) error {
	loads, err := many[shop.SmokeLoad](db, "day", "EXISTS (SELECT 1 FROM smoke_lines WHERE load_id = smoke_loads.id AND at >= ? AND at < ?)", from, to)
	if err != nil {
		return err
	}
	for i := range loads {
		l, err := s.loadLog(db, &loads[i])
		if err != nil {
			return err
		}
		for _, line := range l.Lines {
			d.signed(line.Actor, "smoke log", line.At)
		}
		for _, a := range l.Answers {
			d.signed(a.Actor, "word on a chill", a.At)
		}
		d.Loads = append(d.Loads, *l)
	}
	return nil
}

// signed notes that a person did something on the day.
func (d *DayFolder) signed(name, what string, at unit.Instant) {
	if trim(name) == "" {
		return
	}
	i := slices.IndexFunc(d.Signed, func(s DaySigned) bool { return s.Name == name })
	if i < 0 {
		d.Signed = append(d.Signed, DaySigned{Name: name, First: at, Last: at})
		i = len(d.Signed) - 1
	}
	p := &d.Signed[i]
	p.First, p.Last = min(p.First, at), max(p.Last, at)
	if !slices.Contains(p.What, what) {
		p.What = append(p.What, what)
	}
}

func (d *DayFolder) sign() {
	for _, m := range d.Meat {
		d.signed(m.ReceivedBy, "meat in", m.At)
	}
	for _, c := range d.Scales {
		d.signed(c.Actor, "scale checks", c.At)
	}
	for _, w := range d.WeighOut {
		d.signed(w.Actor, "weigh-outs", w.At)
	}
	for _, h := range d.Holds {
		for _, x := range h.Decided {
			d.signed(x.Actor, "decision on a hold", x.At)
		}
	}
	for _, e := range d.Ground.Entries {
		d.signed(e.Actor, "grinding", e.At)
	}
	slices.SortFunc(d.Signed, func(a, b DaySigned) int { return strings.Compare(a.Name, b.Name) })
}

// FolderDay is a date with something written on it.
type FolderDay struct {
	Day   unit.Day
	Steps int
	Meat  int
	Holds int
}

// FolderDays lists the newest dates on which something was written, at most so many.
func (s *Store) FolderDays(ctx context.Context, most int) ([]FolderDay, error) {
	db := s.read(ctx)
	from := s.Today() - unit.Day(most)
	lo := from.At(0, 0, s.Loc)
	by := map[unit.Day]*FolderDay{}
	at := func(d unit.Day) *FolderDay {
		if by[d] == nil {
			by[d] = &FolderDay{Day: d}
		}
		return by[d]
	}
	var steps, holds []unit.Instant
	if err := db.Raw("SELECT done_at FROM steps WHERE done_at >= ?", lo).Scan(&steps).Error; err != nil {
		return nil, err
	}
	if err := db.Raw("SELECT opened_at FROM holds WHERE opened_at >= ?", lo).Scan(&holds).Error; err != nil {
		return nil, err
	}
	var meat []unit.Day
	if err := db.Raw("SELECT day FROM deliveries WHERE day >= ?", from).Scan(&meat).Error; err != nil {
		return nil, err
	}
	for _, i := range steps {
		at(i.Day(s.Loc)).Steps++
	}
	for _, i := range holds {
		at(i.Day(s.Loc)).Holds++
	}
	for _, d := range meat {
		at(d).Meat++
	}
	var out []FolderDay
	for d := s.Today(); d > from; d-- {
		if by[d] != nil {
			out = append(out, *by[d])
		}
	}
	return out, nil
}
