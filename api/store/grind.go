package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// NewGrind is an entry of the grinding log. Grinding meat needs at least one source.
type NewGrind struct {
	At       unit.Instant // 0: now
	Cleaned  bool
	Product  string
	Weight   unit.Weight
	Note     string
	Corrects shop.GrindID
	Sources  []GrindFrom
}

// GrindFrom is one material put in: bought, or trim of an animal that was delivered here.
type GrindFrom struct {
	Material      string
	Establishment string // bought: the supplier's number
	Lot           string
	MadeOn        unit.Day
	Animal        string // own trim: the animal's tag, or its row's number
}

// GrindLotView is ground meat that is traced together.
type GrindLotView struct {
	inspection.GrindLot
	IDs     []shop.GrindID
	Product string
	Weight  unit.Weight
	Sources []GrindSourceView
	Cleaned unit.Instant // the grinder was cleaned before it; 0 when the log does not say
	Next    unit.Instant // cleaned after it; 0: not yet
	By      string
	Note    string
	Keep    unit.Day
	Touched bool // a source of it is what is traced
	ByCarry bool // only what was carried over is
}

// GrindSourceView is one source as the log shows it.
type GrindSourceView struct {
	shop.GrindSource
	Animal string // own trim
	Farm   string
}

// Name is how a lot names its source: unique for what it came from.
func (g GrindSourceView) Name() string {
	if g.AnimalID != 0 {
		return fmt.Sprintf("%s (own trim, %s)", g.Lot, g.Animal)
	}
	return g.Establishment + " lot " + g.Lot
}

// GrindEntry is one line of the log.
type GrindEntry struct {
	shop.Grind
	Sources   []GrindSourceView
	Corrected shop.GrindID // the entry that stands for it; 0: it counts
}

// GrindLog is the grinding record: every entry as made, and the lots they amount to.
type GrindLog struct {
	Entries []GrindEntry
	Lots    []GrindLotView
	Keep    unit.Day // the last kept day of the newest entry
}

// AddGrind writes an entry into the grinding log. Beef without a source is refused: nobody
// could follow it (9 CFR 320.1(b)(4)).
func (s *Store) AddGrind(ctx context.Context, by shop.Actor, n NewGrind) (id shop.GrindID, err error) {
	if !by.IsStaff() || trim(by.Name) == "" {
		return 0, shop.ErrNotAllowed
	}
	err = s.tx(ctx, func(t tx) error {
		g, sources, err := t.checkGrind(by, n)
		if err != nil {
			return err
		}
		if err := t.Create(g).Error; err != nil {
			return err
		}
		for i := range sources {
			sources[i].GrindID = g.ID
			if err := t.Create(&sources[i]).Error; err != nil {
				return err
			}
		}
		id = g.ID
		return nil
	})
	return id, err
}

func (t tx) checkGrind(by shop.Actor, n NewGrind) (*shop.Grind, []shop.GrindSource, error) {
	var w shop.Wrong
	g := &shop.Grind{At: n.At, Cleaned: n.Cleaned, Product: trim(n.Product), Weight: n.Weight, Note: trim(n.Note), Corrects: n.Corrects, Actor: by.Name, ReceivedAt: t.now}
	if g.At == 0 {
		g.At = t.now
	}
	if g.At > t.now.Add(slowClock) {
		w.Add("at", "That lies ahead of the clock.")
	}
	if len(g.Note) > 400 {
		w.Add("note", "At most 400 letters.")
	}
	if g.Corrects != 0 {
		var was shop.Grind
		if err := t.Where("id = ?", g.Corrects).Take(&was).Error; err != nil {
			w.Add("corrects", "There is no such entry.")
		} else if g.Note == "" {
			w.Add("note", "Say why the earlier entry is corrected; both stay on record.")
		}
		var n int64
		if err := t.Model(&shop.Grind{}).Where("corrects = ?", g.Corrects).Count(&n).Error; err != nil {
			return nil, nil, err
		}
		if n > 0 {
			w.Add("corrects", "That entry is corrected already; correct the newer one.")
		}
	}
	if g.Cleaned {
		if len(n.Sources) > 0 {
			w.Add("cleaned", "Either the grinder was cleaned or meat went through it: write two entries.")
		}
		g.Product, g.Weight = "", 0
		return g, nil, w.Err()
	}
	if g.Product == "" {
		g.Product = "ground beef"
	}
	if g.Weight < 0 || g.Weight > 2000*unit.Pound {
		w.Add("weight", "%s cannot have gone through at one time.", g.Weight.LB())
	}
	if len(n.Sources) == 0 {
		w.Add("sources", "Write where the meat came from: a supplier's establishment number and lot, or the animal the trim is of. Without a source it may not be ground for sale.")
	}
	var out []shop.GrindSource
	for i, f := range n.Sources {
		src, err := t.grindSource(&w, i+1, f)
		if err != nil {
			return nil, nil, err
		}
		out = append(out, src)
	}
	return g, out, w.Err()
}

func (t tx) grindSource(w *shop.Wrong, i int, f GrindFrom) (shop.GrindSource, error) {
	src := shop.GrindSource{Material: trim(f.Material), Establishment: trim(f.Establishment), Lot: trim(f.Lot), MadeOn: f.MadeOn}
	at := func(name string) string { return fmt.Sprintf("%s%d", name, i) }
	if src.Material == "" {
		src.Material = "trim"
	}
	if tag := trim(f.Animal); tag != "" {
		var rows []meatRow
		err := t.Raw(meatOf+"WHERE deliveries.id IS NOT NULL AND (upper(animals.tag) = upper(?) OR CAST(animals.id AS TEXT) = ?) ORDER BY animals.id DESC, sides.id", tag, tag).Scan(&rows).Error
		switch {
		case err != nil:
			return src, err
		case len(rows) == 0:
			w.Add(at("animal"), "No animal %q was delivered here.", tag)
			return src, nil
		case rows[0].Condemned:
			w.Add(at("animal"), "%s was condemned at inspection: nothing of it may come in.", rows[0].animal())
		case trim(rows[0].Legend) == "":
			w.Add(at("animal"), "%s came without an inspection mark: it may not be ground for sale.", rows[0].animal())
		}
		m := rows[0]
		src.AnimalID, src.Establishment, src.Lot, src.MadeOn = shop.AnimalID(m.AnimalID), m.PlantNumber, m.Lot, m.KilledOn
		return src, nil
	}
	if src.Establishment == "" {
		w.Add(at("establishment"), "Write the establishment number as it stands in the mark on the box.")
	}
	if src.Lot == "" {
		w.Add(at("lot"), "Write the supplier's lot number.")
	}
	if src.MadeOn == 0 {
		w.Add(at("made"), "Write the production date on the box, such as 2026-11-10.")
	} else if src.MadeOn > t.today {
		w.Add(at("made"), "It cannot have been made after today.")
	}
	return src, nil
}

// GrindLog reads the grinding record of the days from one to another, both included, with
// whatever still clung to the grinder from before.
func (s *Store) GrindLog(ctx context.Context, from, to unit.Day) (*GrindLog, error) {
	return s.grindLog(s.read(ctx), from.At(0, 0, s.Loc), (to+1).At(0, 0, s.Loc))
}

func (s *Store) grindLog(db *gorm.DB, from, to unit.Instant) (*GrindLog, error) {
	entries, err := s.grindEntries(db, to)
	if err != nil {
		return nil, err
	}
	lots := lotsOf(s, entries)
	out := &GrindLog{}
	for _, e := range entries {
		if e.At >= from {
			out.Entries = append(out.Entries, e)
			out.Keep = max(out.Keep, inspection.KeepGrinding(e.At.Day(s.Loc)))
		}
	}
	for _, l := range lots {
		if l.From >= from {
			out.Lots = append(out.Lots, l)
		}
	}
	return out, nil
}

// grindEntries reads all entries before an instant, in the order of time.
func (s *Store) grindEntries(db *gorm.DB, before unit.Instant) ([]GrindEntry, error) {
	rows, err := many[shop.Grind](db, "at, id", "at < ?", before)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	var sources []struct {
		shop.GrindSource
		Tag    string
		Number int
		Order  int `gorm:"column:order_number"`
		Farm   string
	}
	err = db.Raw(`SELECT grind_sources.*, coalesce(animals.tag, '') AS tag, coalesce(animals.number, 0) AS number, coalesce(orders.number, 0) AS order_number, coalesce(farms.name, '') AS farm FROM grind_sources
		LEFT JOIN animals ON animals.id = grind_sources.animal_id LEFT JOIN orders ON orders.id = animals.order_id LEFT JOIN farms ON farms.id = orders.farm_id ORDER BY grind_sources.id`).Scan(&sources).Error
	if err != nil {
		return nil, err
	}
	by := map[shop.GrindID][]GrindSourceView{}
	for _, r := range sources {
		v := GrindSourceView{GrindSource: r.GrindSource, Farm: r.Farm}
		if r.AnimalID != 0 {
			v.Animal = meatRow{Tag: r.Tag, Number: r.Number, OrderNumber: r.Order, Species: "animal"}.animal()
		}
		by[r.GrindID] = append(by[r.GrindID], v)
	}
	corrected := map[shop.GrindID]shop.GrindID{}
	for _, g := range rows {
		if g.Corrects != 0 {
			corrected[g.Corrects] = g.ID
		}
	}
	out := make([]GrindEntry, len(rows))
	for i, g := range rows {
		out[i] = GrindEntry{Grind: g, Sources: by[g.ID], Corrected: corrected[g.ID]}
	}
	return out, nil
}

// lotsOf parts the entries that count into lots.
func lotsOf(s *Store, entries []GrindEntry) []GrindLotView {
	var events []inspection.GrindEvent
	var counts []GrindEntry
	for _, e := range entries {
		if e.Corrected != 0 {
			continue
		}
		ev := inspection.GrindEvent{At: e.At, Cleaned: e.Cleaned}
		for _, src := range e.Sources {
			ev.Sources = append(ev.Sources, src.Name())
		}
		events, counts = append(events, ev), append(counts, e)
	}
	lots := inspection.GrindLots(events)
	out := make([]GrindLotView, len(lots))
	j, open, cleaned := -1, false, unit.Instant(0)
	for i, e := range counts {
		if e.Cleaned {
			cleaned, open = e.At, false
			for k := j; k >= 0 && out[k].Next == 0; k-- {
				out[k].Next = e.At
			}
			continue
		}
		if !open || !slices.Equal(lots[j].Sources, sorted(events[i].Sources)) {
			j++
			out[j] = GrindLotView{GrindLot: lots[j], Product: e.Product, Sources: e.Sources, Cleaned: cleaned, By: e.Actor}
		}
		open = true
		v := &out[j]
		v.IDs = append(v.IDs, e.ID)
		v.Weight += e.Weight
		v.Keep = max(v.Keep, inspection.KeepGrinding(e.At.Day(s.Loc)))
		if e.Note != "" {
			v.Note = strings.TrimPrefix(v.Note+"; "+e.Note, "; ")
		}
	}
	return out
}

func sorted(list []string) []string {
	out := slices.Clone(list)
	slices.Sort(out)
	return slices.Compact(out)
}

// grindsOf are the ground lots that trim of animals went into, or clung to.
func (s *Store) grindsOf(db *gorm.DB, animals string, args []any) ([]GrindLotView, error) {
	var ids []shop.GrindID
	if err := db.Raw("SELECT grind_id FROM grind_sources WHERE animal_id IN ("+animals+")", args...).Scan(&ids).Error; err != nil || len(ids) == 0 {
		return nil, err
	}
	return s.grindsTouched(db, ids)
}

// grindsFrom are the ground lots of one entry and all that its meat was carried over into.
func (s *Store) grindsFrom(db *gorm.DB, id shop.GrindID) ([]GrindLotView, error) {
	return s.grindsTouched(db, []shop.GrindID{id})
}

func (s *Store) grindsTouched(db *gorm.DB, ids []shop.GrindID) ([]GrindLotView, error) {
	entries, err := s.grindEntries(db, ever)
	if err != nil {
		return nil, err
	}
	var out []GrindLotView
	carrying := false
	last := unit.Instant(-1)
	for _, l := range lotsOf(s, entries) {
		if l.Cleaned != last {
			carrying, last = false, l.Cleaned
		}
		l.Touched = slices.ContainsFunc(l.IDs, func(id shop.GrindID) bool { return slices.Contains(ids, id) })
		l.ByCarry = !l.Touched && carrying
		if l.Touched {
			carrying = true
		}
		if l.Touched || l.ByCarry {
			out = append(out, l)
		}
	}
	return out, nil
}
