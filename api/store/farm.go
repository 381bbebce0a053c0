package store

import (
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/season"
)

// farmYield is a farm and what its animals of one species give.
type farmYield struct {
	Farm    shop.Farm
	Row     shop.YieldProfile
	Profile carcass.Profile
}

// yieldOf reads a farm's yield of a species; farm 0 takes the farm the shop has known
// longest for it.
func yieldOf(db *gorm.DB, farm shop.FarmID, species string) (farmYield, error) {
	var y farmYield
	q := db.Where("species = ?", species)
	if farm != 0 {
		q = q.Where("farm_id = ?", farm)
	}
	if err := q.Order("id").Take(&y.Row).Error; err != nil {
		return y, notFound(err, "A farm that raises "+species)
	}
	f, err := take[shop.Farm](db, "The farm", "id = ?", y.Row.FarmID)
	if err != nil {
		return y, err
	}
	y.Farm = *f
	y.Profile, err = y.Row.Carcass(f.Name)
	return y, err
}

// FarmChoice is a farm that could be asked.
type FarmChoice struct {
	ID    shop.FarmID
	Code  string
	Name  string
	Breed string
	Row   shop.YieldProfile
}

// farmsFor lists the farms that raise a species, the one known longest first.
func farmsFor(db *gorm.DB, species string) ([]FarmChoice, error) {
	rows, err := many[shop.YieldProfile](db, "id", "species = ?", species)
	if err != nil {
		return nil, err
	}
	var out []FarmChoice
	for _, r := range rows {
		f, err := take[shop.Farm](db, "The farm", "id = ?", r.FarmID)
		if err != nil {
			return nil, err
		}
		out = append(out, FarmChoice{f.ID, f.Code, f.Name, r.Breed, r})
	}
	return out, nil
}

// plantBook is what must be known to choose a kill day: the plant's days and closures,
// the slots our orders hold, the shop's closed days and rules.
type plantBook struct {
	Plant  shop.Plant
	Kinds  map[shop.KindID]shop.ClassKind
	Rules  season.Rules
	Book   season.Plant
	Closed season.Closed
}

// openBook reads the book of a plant; 0 is the first.
func (s *Store) openBook(db *gorm.DB, plant shop.PlantID) (plantBook, error) {
	var b plantBook
	q := db.Order("id")
	if plant != 0 {
		q = q.Where("id = ?", plant)
	}
	if err := q.Take(&b.Plant).Error; err != nil {
		return b, notFound(err, "The slaughterhouse")
	}
	kinds, err := many[shop.ClassKind](db, "id", "1 = 1")
	if err != nil {
		return b, err
	}
	b.Kinds = map[shop.KindID]shop.ClassKind{}
	for _, k := range kinds {
		b.Kinds[k.ID] = k
	}
	b.Rules = s.Rules.Season(b.Plant, kinds)
	closures, err := many[shop.PlantClosure](db, "from_day, id", "plant_id = ?", b.Plant.ID)
	if err != nil {
		return b, err
	}
	for _, c := range closures {
		b.Book.Closures = append(b.Book.Closures, season.Closure{From: c.FromDay, To: c.ToDay, Species: c.SpeciesList(), Why: c.Reason})
	}
	err = db.Raw(`SELECT k.day, s.species, s.taken AS animals FROM slots s JOIN kill_days k ON k.id = s.kill_day_id
		WHERE k.plant_id = ? AND s.taken > 0 ORDER BY k.day, s.species`, b.Plant.ID).Scan(&b.Book.Taken).Error
	if err != nil {
		return b, fmt.Errorf("slots taken: %w", err)
	}
	closed, err := many[shop.ClosedDay](db, "day", "1 = 1")
	b.Closed = shop.Closed(closed)
	return b, err
}
