package store

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// FarmYield is a farm and, for each animal it raises, what the shop reckons with beside
// what its own deliveries say.
type FarmYield struct {
	Farm   shop.Farm
	Yields []YieldView
}

// YieldView is one sort of animal of a farm.
type YieldView struct {
	Row     shop.YieldProfile
	Now     carcass.Profile // reckoned with today
	Own     carcass.Own     // the prior brought up to date with what was weighed
	Prior   string          // key of the published prior; "" is what the shop started with
	Priors  []carcass.Published
	Adopted bool // what is reckoned with is what Own says

	Hung       int // carcasses not condemned
	Condemned  int
	Note       string // what its bellies gave, in one line; "" before any delivery
	Left       carcass.Left
	Worth      unit.Money
	Deliveries []FarmDelivery
	Tests      []shop.CuttingTest
}

// FarmDelivery is one order's animals as weighed.
type FarmDelivery struct {
	Number    int
	Day       unit.Day
	Animals   int
	Condemned int
	Hot       unit.Weight
	Cold      unit.Weight
	Shrink    unit.Ratio // of the animals with both weights; 0 when there are none
}

// Farms lists the farms the shop buys from.
func (s *Store) Farms(ctx context.Context) ([]shop.Farm, error) {
	return many[shop.Farm](s.read(ctx), "id", "1 = 1")
}

// FarmPage reads a farm with its yields. prior is the key of a published profile to weigh
// the farm's own animals against, or "" for the figures the shop started with; a key that
// does not fit an animal leaves that animal on its own start.
func (s *Store) FarmPage(ctx context.Context, code, prior string) (*FarmYield, error) {
	db := s.read(ctx)
	f, err := take[shop.Farm](db, "The farm", "code = ?", code)
	if err != nil {
		return nil, err
	}
	rows, err := many[shop.YieldProfile](db, "id", "farm_id = ?", f.ID)
	if err != nil {
		return nil, err
	}
	page := &FarmYield{Farm: *f}
	for _, r := range rows {
		v, err := s.yieldView(db, f, r, prior)
		if err != nil {
			return nil, err
		}
		page.Yields = append(page.Yields, v)
	}
	return page, nil
}

func (s *Store) yieldView(db *gorm.DB, f *shop.Farm, row shop.YieldProfile, prior string) (YieldView, error) {
	v := YieldView{Row: row}
	var err error
	if v.Now, err = row.Carcass(f.Name); err != nil {
		return v, err
	}
	start, err := row.Started(f.Name)
	if err != nil {
		return v, err
	}
	for _, p := range carcass.AllPublished() {
		if c, err := p.Profile(); err == nil && c.Species == start.Species && (start.Belly == 0 || c.Belly > 0) {
			v.Priors = append(v.Priors, p)
			if p.Key == prior {
				start, v.Prior = priorOf(c, start), prior
			}
		}
	}
	animals, err := weighedOf(db, f.ID, row.Species)
	if err != nil {
		return v, err
	}
	if v.Tests, err = many[shop.CuttingTest](db, "day, id", "farm_id = ? AND species = ?", f.ID, row.Species); err != nil {
		return v, err
	}
	var sides []carcass.SideTest
	for _, t := range v.Tests {
		if side, ok := t.Side(); ok {
			sides = append(sides, side)
		}
	}
	v.Own = start.Learn(animals, sides, carcass.DefaultPrior)
	v.Adopted = sameFigures(v.Own.Profile, v.Now)
	return v, s.hung(db, f, &v, animals)
}

// priorOf is a published profile with what its source does not print taken from the
// shop's own start: the trims of a belly, the usual weight, the shrink.
func priorOf(published, start carcass.Profile) carcass.Profile {
	p := published
	p.Farm, p.Breed, p.Squaring, p.Skin = start.Farm, start.Breed, start.Squaring, start.Skin
	if p.HCW == 0 {
		p.HCW = start.HCW
	}
	if p.Shrink == 0 {
		p.Shrink = start.Shrink
	}
	return p
}

func sameFigures(a, b carcass.Profile) bool {
	if a.HCW != b.HCW || a.Shrink != b.Shrink || a.Belly != b.Belly || len(a.Rest) != len(b.Rest) {
		return false
	}
	for i := range a.Rest {
		if a.Rest[i] != b.Rest[i] {
			return false
		}
	}
	return true
}

// weighedOf reads every delivered animal of a farm as the scales saw it. A belly counts
// when it lay on the scale itself, not when it was reckoned from its side.
func weighedOf(db *gorm.DB, farm shop.FarmID, species string) ([]carcass.Weighed, error) {
	var rows []struct {
		ID       shop.AnimalID
		Number   int
		Order    int `gorm:"column:ord"`
		Tag      string
		Hot      unit.Weight
		Day      unit.Day
		Cold     unit.Weight
		Weight   unit.Weight
		Measured bool
	}
	err := db.Raw(`SELECT a.id, a.number, o.number AS ord, a.tag, a.hot, d.day, coalesce(s.cold, 0) AS cold,
			coalesce(b.weight, 0) AS weight, coalesce(b.measured, ?) AS measured
		FROM animals a JOIN orders o ON o.id = a.order_id JOIN deliveries d ON d.id = a.delivery_id
		LEFT JOIN sides s ON s.animal_id = a.id LEFT JOIN bellies b ON b.side_id = s.id
		WHERE o.farm_id = ? AND o.species = ? AND a.condemned = ? ORDER BY o.number, a.number, s.which`, false, farm, species, false).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("animals of the farm: %w", err)
	}
	var out []carcass.Weighed
	var last shop.AnimalID
	for _, r := range rows {
		if r.ID != last {
			out = append(out, carcass.Weighed{Tag: fmt.Sprintf("order %d, %s %d", r.Order, shop.AnimalOf(species), r.Number), Day: r.Day, Hot: r.Hot})
			last = r.ID
		}
		w := &out[len(out)-1]
		if r.Cold > 0 {
			w.Sides = append(w.Sides, r.Cold)
		}
		if r.Measured {
			w.Belled = append(w.Belled, carcass.BelliedSide{Side: r.Cold, Belly: r.Weight})
		}
	}
	return out, nil
}

// hung adds up what the farm's animals gave.
func (s *Store) hung(db *gorm.DB, f *shop.Farm, v *YieldView, animals []carcass.Weighed) error {
	v.Hung = len(animals)
	var colds []unit.Weight
	for _, a := range animals {
		colds = append(colds, a.Sides...)
	}
	v.Left = v.Now.Leaves(colds)
	v.Worth = s.Rules.Worth(v.Left.Cuts)
	err := db.Raw(`SELECT o.number, d.day, count(*) AS animals, sum(a.hot) AS hot,
			(SELECT count(*) FROM animals c WHERE c.order_id = o.id AND c.condemned = ?) AS condemned,
			sum((SELECT coalesce(sum(s.cold), 0) FROM sides s WHERE s.animal_id = a.id)) AS cold
		FROM animals a JOIN orders o ON o.id = a.order_id JOIN deliveries d ON d.id = a.delivery_id
		WHERE o.farm_id = ? AND o.species = ? AND a.condemned = ? GROUP BY o.id, o.number, d.day ORDER BY d.day, o.number`,
		true, f.ID, v.Row.Species, false).Scan(&v.Deliveries).Error
	if err != nil {
		return fmt.Errorf("deliveries of the farm: %w", err)
	}
	for i, d := range v.Deliveries {
		v.Condemned += d.Condemned
		if d.Hot > 0 && d.Cold > 0 {
			v.Deliveries[i].Shrink = (d.Hot - d.Cold).RatioOf(d.Hot)
		}
	}
	if v.Now.Belly > 0 && v.Hung > 0 {
		return s.tell(db, f, v)
	}
	return nil
}

// tell writes the line of what the farm's bellies gave, as they were cut.
func (s *Store) tell(db *gorm.DB, f *shop.Farm, v *YieldView) error {
	bellies, err := s.bellies(db, 0, "a.order_id IN (SELECT id FROM orders WHERE farm_id = ? AND species = ?) AND a.condemned = ? AND a.delivery_id <> 0 ORDER BY a.order_id, a.number, s.which",
		f.ID, v.Row.Species, false)
	if err != nil {
		return err
	}
	var cuts []carcass.BellyCut
	for _, b := range bellies {
		cuts = append(cuts, b.Cut)
	}
	if told := v.Now.Tell(s.Rules.SlabRule(), cuts); told != "" {
		v.Note = fmt.Sprintf("%s, %s hung: %s.", f.Name, shop.AnimalsIn(v.Row.Species, v.Hung), told)
	}
	return nil
}

// AdoptYield makes what a farm's own animals say, weighed with a prior, the figures the
// shop reckons with from today. The figures it started from are kept, so that no animal
// ever counts twice. prior is as for FarmPage.
func (s *Store) AdoptYield(ctx context.Context, by shop.Actor, code, species, prior string) error {
	return s.tx(ctx, func(t tx) error {
		f, err := take[shop.Farm](t.DB, "The farm", "code = ?", code)
		if err != nil {
			return err
		}
		row, err := take[shop.YieldProfile](t.DB, "This farm's "+species, "farm_id = ? AND species = ?", f.ID, species)
		if err != nil {
			return err
		}
		v, err := s.yieldView(t.DB, f, *row, prior)
		if err != nil {
			return err
		}
		switch {
		case v.Prior != prior:
			return shop.Bad("prior", "There is no published list of %s with a belly under that name.", species)
		case v.Own.Animals+v.Own.Tests == 0:
			return shop.Stop("nothing_weighed", "None of %s's %s was weighed yet: there is nothing to learn from.", f.Name, species)
		case v.Adopted:
			return shop.Stop("adopted", "The shop reckons with these figures already.")
		}
		first := row.Prior
		if first == "" {
			b, err := json.Marshal(v.Now)
			if err != nil {
				return err
			}
			first = string(b)
		}
		p := v.Own.Profile
		cuts, err := shop.CutsJSON(p.Rest)
		if err != nil {
			return err
		}
		source := fmt.Sprintf("%s of its own, over %s", shop.AnimalsIn(species, v.Own.Animals), v.Own.Prior.Source)
		res := t.Model(&shop.YieldProfile{}).Where("id = ? AND hcw = ? AND shrink = ? AND belly = ? AND cuts = ?", row.ID, row.HCW, row.Shrink, row.Belly, row.Cuts).
			Updates(map[string]any{"hcw": p.HCW, "shrink": p.Shrink, "belly": p.Belly, "cuts": cuts, "source": source,
				"sample_size": v.Own.Animals, "prior": first, "since": t.today})
		if err := changed(res, shop.ErrStale); err != nil {
			return err
		}
		return t.note(by, "yield", row.ID, "taken over", figures(v.Now), figures(p), source)
	})
}

// figures writes a profile on one line, for the history.
func figures(p carcass.Profile) string {
	parts := []string{p.HCW.LB(), "shrink " + p.Shrink.String(), "belly " + p.Belly.String()}
	for _, c := range p.Rest {
		parts = append(parts, c.Cut+" "+c.Share.String())
	}
	return strings.Join(parts, ", ")
}

// FarmAnimal is a farm and one species it raises, for a list to choose from.
type FarmAnimal struct {
	FarmID  shop.FarmID
	Code    string
	Name    string
	Species string
}

// Value names it in a form: "harl/pork".
func (a FarmAnimal) Value() string { return a.Code + "/" + a.Species }

// FarmSpecies lists what each farm raises.
func (s *Store) FarmSpecies(ctx context.Context) ([]FarmAnimal, error) {
	var rows []FarmAnimal
	err := s.read(ctx).Raw(`SELECT DISTINCT f.id AS farm_id, f.code, f.name, p.species FROM yield_profiles p JOIN farms f ON f.id = p.farm_id
		ORDER BY f.id, p.species`).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("farms and animals: %w", err)
	}
	return rows, nil
}
