package store

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// DrillView is a drill as the page shows it.
type DrillView struct {
	shop.Drill
	Tag   string
	Found time.Duration // the records gave the whole way of the slab in this time
	Took  time.Duration // the person answered in this time; 0 until then
	Farm  string        // the right answers, once answered
	Lots  []string
	FarmRight,
	LotRight bool
}

// BeginDrill picks a slab nobody chose and notes how long its trace took. pick gives a
// number from 0 to n-1; chance lies with the caller.
func (s *Store) BeginDrill(ctx context.Context, by shop.Actor, pick func(n int) int) (id int64, err error) {
	if !by.IsStaff() || trim(by.Name) == "" {
		return 0, shop.ErrNotAllowed
	}
	var slabs []shop.SlabID
	if err := s.read(ctx).Raw("SELECT id FROM slabs WHERE sealed_on IS NOT NULL ORDER BY id").Scan(&slabs).Error; err != nil {
		return 0, err
	}
	if len(slabs) == 0 {
		return 0, shop.Stop("no_slabs", "No slab has been sealed yet: there is nothing to trace.")
	}
	slab := slabs[pick(len(slabs))]
	began := s.now()
	sl, err := take[shop.Slab](s.read(ctx), "The slab", "id = ?", slab)
	if err != nil {
		return 0, err
	}
	tr, err := s.Trace(ctx, Handle{Kind: "slab", Key: sl.Tag})
	if err != nil {
		return 0, err
	}
	found := s.now().Sub(began)
	d := shop.Drill{SlabID: slab, AskedAt: s.Now(), Ingredient: drillQuestion(tr, pick), FoundMicros: found.Microseconds(), Actor: by.Name}
	err = s.tx(ctx, func(t tx) error {
		d.ID = 0
		if err := t.Create(&d).Error; err != nil {
			return err
		}
		return t.note(by, "slab", int64(slab), "tracing drill", "", "", "")
	})
	return d.ID, err
}

// drillQuestion chooses which lot is asked for: rather a spice than what is on every slab.
func drillQuestion(tr *Traced, pick func(n int) int) string {
	var spices []string
	for _, l := range tr.Lots {
		if !slices.Contains([]string{"salt", "sugar", "curing salt", shop.Bags}, l.Ingredient) && !slices.Contains(spices, l.Ingredient) {
			spices = append(spices, l.Ingredient)
		}
	}
	if len(spices) == 0 {
		return "curing salt"
	}
	return spices[pick(len(spices))]
}

// AnswerDrill notes what a person could say of the slab, and how long it took them. An
// answer counts once.
func (s *Store) AnswerDrill(ctx context.Context, by shop.Actor, id int64, farm, lot string) error {
	farm, lot = trim(farm), trim(lot)
	var w shop.Wrong
	if len(farm) > 100 {
		w.Add("farm", "At most 100 letters.")
	}
	if len(lot) > 100 {
		w.Add("lot", "At most 100 letters.")
	}
	if err := w.Err(); err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		d, err := take[shop.Drill](t.DB, "The drill", "id = ?", id)
		if err != nil {
			return err
		}
		if d.AnsweredAt != 0 {
			return shop.Stop("answered", "This drill was answered %s.", d.AnsweredAt.Show(t.s.Loc))
		}
		d.FarmSaid, d.LotSaid = farm, lot
		v, err := t.s.drillView(t.DB, *d)
		if err != nil {
			return err
		}
		right := 0
		if v.FarmRight {
			right++
		}
		if v.LotRight {
			right++
		}
		return changed(t.Model(&shop.Drill{}).Where("id = ? AND answered_at = 0", id).
			Updates(map[string]any{"answered_at": t.now, "farm_said": farm, "lot_said": lot, "right_answers": right, "actor": by.Name}), shop.ErrMoved)
	})
}

// Drill reads one drill; the right answers are shown once it is answered.
func (s *Store) Drill(ctx context.Context, id int64) (*DrillView, error) {
	db := s.read(ctx)
	d, err := take[shop.Drill](db, "The drill", "id = ?", id)
	if err != nil {
		return nil, err
	}
	return s.drillView(db, *d)
}

// Drills lists the newest drills.
func (s *Store) Drills(ctx context.Context) ([]DrillView, error) {
	db := s.read(ctx)
	rows, err := many[shop.Drill](db.Limit(100), "id DESC", "id > 0")
	if err != nil {
		return nil, err
	}
	var out []DrillView
	for _, d := range rows {
		v, err := s.drillView(db, d)
		if err != nil {
			return nil, err
		}
		out = append(out, *v)
	}
	return out, nil
}

func (s *Store) drillView(db *gorm.DB, d shop.Drill) (*DrillView, error) {
	v := &DrillView{Drill: d, Found: time.Duration(d.FoundMicros) * time.Microsecond}
	if d.AnsweredAt != 0 {
		v.Took = d.AnsweredAt.Sub(d.AskedAt)
	}
	var row struct{ Tag, Farm string }
	err := db.Raw(`SELECT slabs.tag, coalesce(farms.name, '') AS farm FROM slabs LEFT JOIN bellies ON bellies.id = slabs.belly_id LEFT JOIN sides ON sides.id = bellies.side_id LEFT JOIN animals ON animals.id = sides.animal_id
		LEFT JOIN orders ON orders.id = animals.order_id LEFT JOIN farms ON farms.id = orders.farm_id WHERE slabs.id = ?`, d.SlabID).Scan(&row).Error
	if err != nil {
		return nil, err
	}
	v.Tag, v.Farm = row.Tag, row.Farm
	err = db.Raw(`SELECT DISTINCT l.code FROM ingredient_lots l JOIN weigh_out_lots u ON u.lot_id = l.id JOIN weigh_outs w ON w.id = u.weigh_out_id WHERE w.slab_id = ? AND l.ingredient = ? ORDER BY l.code`, d.SlabID, d.Ingredient).Scan(&v.Lots).Error
	if err != nil {
		return nil, err
	}
	v.FarmRight = v.Farm != "" && plainName(d.FarmSaid) == plainName(v.Farm)
	v.LotRight = slices.ContainsFunc(v.Lots, func(code string) bool { return sameCode(code, d.LotSaid) })
	return v, nil
}

// sameCode compares lots as people type them: without case and strokes.
func sameCode(a, b string) bool {
	plain := func(s string) string { return strings.ToLower(strings.NewReplacer("-", "", " ", "").Replace(s)) }
	return plain(b) != "" && cmp.Compare(plain(a), plain(b)) == 0
}

// Answered says whether somebody has answered.
func (v DrillView) Answered() bool { return v.AnsweredAt != unit.Instant(0) }
