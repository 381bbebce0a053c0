package store

import (
	"context"
	"encoding/json"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// OrderView is an order with everything that hangs on it, for the owner.
type OrderView struct {
	Order   shop.Order
	Farm    shop.Farm
	Plant   shop.Plant
	Kill    unit.Day
	Slot    shop.Slot // capacity and taken of its day; zero before any order of that day was sent
	Lines   []OrderClass
	Why     OrderWhy
	Terms   []string
	Usual   unit.Weight // the farm's usual hot carcass weight
	Side    unit.Weight // and cold side
	Animals []OrderAnimal
	Pieces  []MeatPiece // once delivered
	OnBone  bool        // a class cuts loins of these cattle on the bone
	NoBelly bool        // the species has no bellies of ours
	Money   shop.SlipMoney
	Lot     string
	Recount *Recount
	Slabs   int // on the cut list, 0 before it is made
	Link    string
	Next    []shop.OrderState
	Past    []shop.History
}

// OrderClass is a class the order feeds.
type OrderClass struct {
	Code    string
	Title   string
	ClassID shop.ClassID
	Starts  unit.Instant
	Piece   string
	Wanted  int
	Reason  string
}

// OrderAnimal is a carcass with its sides.
type OrderAnimal struct {
	shop.Animal
	Sides []OrderSide
	Claim string // on the whole animal
}

// OrderSide is a side and its claim.
type OrderSide struct {
	shop.Side
	Claim string
}

// OrderPage reads an order by its number.
func (s *Store) OrderPage(ctx context.Context, number int) (*OrderView, error) {
	db := s.read(ctx)
	o, err := take[shop.Order](db, "The order", "number = ?", number)
	if err != nil {
		return nil, err
	}
	v, err := s.orderView(db, o)
	if err != nil {
		return nil, err
	}
	v.Link = s.Link("order", o.LinkNo)
	if v.Pieces, err = s.pieces(db, o); err != nil {
		return nil, err
	}
	if v.OnBone, err = s.cutsOnBone(db, o); err != nil {
		return nil, err
	}
	if v.Recount, err = s.recount(db, o); err != nil {
		return nil, err
	}
	var n int64
	if err := db.Model(&shop.Slab{}).Where("class_id IN (SELECT id FROM classes WHERE order_id = ?)", o.ID).Count(&n).Error; err != nil {
		return nil, err
	}
	v.Slabs = int(n)
	v.Past, err = many[shop.History](db, "id", "subject = 'order' AND subject_id = ?", o.ID)
	return v, err
}

// OrderNumbered is the key of an order known by its number.
func (s *Store) OrderNumbered(ctx context.Context, number int) (shop.OrderID, error) {
	o, err := take[shop.Order](s.read(ctx), "The order", "number = ?", number)
	if err != nil {
		return 0, err
	}
	return o.ID, nil
}

// OrderRow is an order in a list.
type OrderRow struct {
	Number    int
	Farm      string
	Species   string
	State     shop.OrderState
	Animals   int
	Promised  int
	Kill      unit.Day
	DeliverOn unit.Day
	OrderBy   unit.Instant
	Codes     string `gorm:"-"`
}

// What is the order in words: "4 pigs".
func (r OrderRow) What() string { return shop.AnimalsIn(r.Species, r.Animals) }

// Orders lists orders whose kill or delivery lies on or after a day, the nearest first.
func (s *Store) Orders(ctx context.Context, from unit.Day) ([]OrderRow, error) {
	var rows []OrderRow
	err := s.read(ctx).Raw(`SELECT o.number, f.name AS farm, o.species, o.state, o.animals, o.promised, k.day AS kill, o.deliver_on, o.order_by
		FROM orders o JOIN farms f ON f.id = o.farm_id JOIN kill_days k ON k.id = o.kill_day_id
		WHERE k.day >= ? OR o.deliver_on >= ? ORDER BY k.day, o.number`, from, from).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	var lines []struct {
		Number int
		Code   string
	}
	err = s.read(ctx).Raw(`SELECT o.number, c.code FROM order_lines l JOIN orders o ON o.id = l.order_id JOIN classes c ON c.id = l.class_id ORDER BY c.starts_at, c.code`).Scan(&lines).Error
	for i := range rows {
		for _, l := range lines {
			if l.Number == rows[i].Number {
				rows[i].Codes = strings.TrimPrefix(rows[i].Codes+", "+l.Code, ", ")
			}
		}
	}
	return rows, err
}

// OrderSlip reads an order by its private link, for the farm: without the shop's classes,
// reckoning and history.
func (s *Store) OrderSlip(ctx context.Context, secret string) (*OrderView, error) {
	db := s.read(ctx)
	o, err := take[shop.Order](db, "The order", "token_hash = ?", hashOf(secret))
	if err != nil {
		return nil, err
	}
	if o.State == shop.Needed {
		return nil, shop.Missing("The order")
	}
	v, err := s.orderView(db, o)
	if err != nil {
		return nil, err
	}
	v.Lines, v.Why, v.Order.Why, v.Next = nil, OrderWhy{}, "", nil
	return v, nil
}

func (s *Store) orderView(db *gorm.DB, o *shop.Order) (*OrderView, error) {
	v := &OrderView{Order: *o, Terms: Terms(*o), Next: shop.OrderMoves.Next(o.State)}
	kd, err := take[shop.KillDay](db, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return nil, err
	}
	v.Kill = kd.Day
	plant, err := take[shop.Plant](db, "The slaughterhouse", "id = ?", kd.PlantID)
	if err != nil {
		return nil, err
	}
	y, err := yieldOf(db, o.FarmID, o.Species)
	if err != nil {
		return nil, err
	}
	v.Plant, v.Farm, v.Usual, v.Side, v.NoBelly = *plant, y.Farm, y.Row.HCW, y.Profile.Forecast().Side, y.Profile.Belly == 0
	if err := db.Where("kill_day_id = ? AND species = ?", o.KillDayID, o.Species).Limit(1).Find(&v.Slot).Error; err != nil {
		return nil, err
	}
	if o.Why != "" {
		if err := json.Unmarshal([]byte(o.Why), &v.Why); err != nil {
			return nil, err
		}
	}
	err = db.Raw(`SELECT c.code, c.title, c.id AS class_id, c.starts_at AS starts, l.piece, l.wanted, l.reason FROM order_lines l
		JOIN classes c ON c.id = l.class_id WHERE l.order_id = ? ORDER BY c.starts_at, c.code`, o.ID).Scan(&v.Lines).Error
	if err != nil {
		return nil, err
	}
	if err := s.orderAnimals(db, o, v); err != nil {
		return nil, err
	}
	rows := make([]shop.Animal, len(v.Animals))
	for i, a := range v.Animals {
		rows[i] = a.Animal
	}
	v.Money = o.Money(rows, v.Usual)
	return v, db.Raw("SELECT lot FROM deliveries WHERE order_id = ? ORDER BY id LIMIT 1", o.ID).Scan(&v.Lot).Error
}

func (s *Store) orderAnimals(db *gorm.DB, o *shop.Order, v *OrderView) error {
	animals, err := many[shop.Animal](db, "number", "order_id = ?", o.ID)
	if err != nil {
		return err
	}
	rows, err := many[shop.Side](db, "which", "animal_id IN (SELECT id FROM animals WHERE order_id = ?)", o.ID)
	if err != nil {
		return err
	}
	var claims []struct {
		Piece     string
		SubjectID int64
		Purpose   string
		Code      string
	}
	err = db.Raw(`SELECT m.piece, m.subject_id, m.purpose, coalesce(c.code, '') AS code FROM claims m LEFT JOIN classes c ON c.id = m.class_id
		WHERE m.ended_at = 0 AND (m.piece = 'animal' AND m.subject_id IN (SELECT id FROM animals WHERE order_id = ?)
		OR m.piece IN ('side', 'hindquarter', 'forequarter') AND m.subject_id IN (SELECT id FROM sides WHERE animal_id IN (SELECT id FROM animals WHERE order_id = ?)))
		ORDER BY m.id`, o.ID, o.ID).Scan(&claims).Error
	if err != nil {
		return err
	}
	words := map[string]map[int64]string{"animal": {}, "side": {}}
	for _, c := range claims {
		piece, word := c.Piece, c.Purpose
		if c.Code != "" {
			word = c.Code
		}
		if piece == "hindquarter" || piece == "forequarter" {
			piece, word = "side", word+" ("+piece+")"
		}
		if old := words[piece][c.SubjectID]; old != "" {
			word = old + ", " + word
		}
		words[piece][c.SubjectID] = word
	}
	for _, a := range animals {
		oa := OrderAnimal{Animal: a, Claim: words["animal"][int64(a.ID)]}
		for _, r := range rows {
			if r.AnimalID == a.ID {
				oa.Sides = append(oa.Sides, OrderSide{r, words["side"][int64(r.ID)]})
			}
		}
		v.Animals = append(v.Animals, oa)
	}
	return nil
}
