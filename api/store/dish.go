package store

import (
	"context"
	"slices"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"flitchbook/api/shop"
	"flitchbook/planner/table"
)

// DishView is a dish with the kinds of class whose dinners have it.
type DishView struct {
	shop.Dish
	Kinds []string // their codes
}

// DishKind is a kind of class with a dinner.
type DishKind struct {
	Code string
	Name string
}

// Dishes lists every dish the shop cooks, by name, and the kinds of dinner there are.
func (s *Store) Dishes(ctx context.Context) (dishes []DishView, kinds []DishKind, err error) {
	db := s.read(ctx)
	rows, err := many[shop.Dish](db, "name", "gone_at = 0")
	if err != nil {
		return nil, nil, err
	}
	var on []struct {
		DishID shop.DishID
		Code   string
	}
	if err := db.Raw("SELECT m.dish_id, k.code FROM menus m JOIN class_kinds k ON k.id = m.kind_id ORDER BY k.id").Scan(&on).Error; err != nil {
		return nil, nil, err
	}
	for _, d := range rows {
		v := DishView{Dish: d}
		for _, o := range on {
			if o.DishID == d.ID {
				v.Kinds = append(v.Kinds, o.Code)
			}
		}
		dishes = append(dishes, v)
	}
	return dishes, kinds, db.Raw("SELECT code, name FROM class_kinds WHERE dinner = ? ORDER BY id", true).Scan(&kinds).Error
}

// SaveDish writes down a new dish, or (id not 0) what has changed of one. What it was
// stands in the history: a table sheet printed before may say otherwise.
func (s *Store) SaveDish(ctx context.Context, by shop.Actor, id shop.DishID, n shop.NewDish) (shop.DishID, error) {
	err := s.tx(ctx, func(t tx) (err error) {
		if err := n.Check(); err != nil {
			return err
		}
		was := ""
		if id != 0 {
			d, err := take[shop.Dish](t.DB, "The dish", "id = ? AND gone_at = 0", id)
			if err != nil {
				return err
			}
			was = d.Name + ": " + d.Holds
		}
		if id, err = t.dish(id, n); err != nil {
			return err
		}
		return t.note(by, "dish", int64(id), "written down", was, n.Name+": "+strings.Join(n.Holds, ","), "")
	})
	return id, err
}

// DropDish takes a dish off every menu: the shop cooks it no more.
func (s *Store) DropDish(ctx context.Context, by shop.Actor, id shop.DishID) error {
	return s.tx(ctx, func(t tx) error {
		res := t.Exec("UPDATE dishes SET gone_at = ? WHERE id = ? AND gone_at = 0", t.now, id)
		if err := changed(res, shop.Missing("The dish")); err != nil {
			return err
		}
		return t.note(by, "dish", int64(id), "cooked no more", "", "", "")
	})
}

// dish stores one with its menus.
func (t tx) dish(id shop.DishID, n shop.NewDish) (shop.DishID, error) {
	same, err := many[shop.Dish](t.DB, "id", "name = ? AND id <> ?", n.Name, id)
	if err != nil {
		return 0, err
	}
	if id == 0 && len(same) == 1 && same[0].GoneAt != 0 {
		id = same[0].ID // cooked again
	} else if len(same) > 0 {
		return 0, field("name", "There is a dish of that name already.")
	}
	d := shop.Dish{ID: id, Name: n.Name, Holds: strings.Join(n.Holds, ","), Board: n.Board}
	if err := t.Save(&d).Error; err != nil {
		return 0, err
	}
	if err := t.Exec("DELETE FROM menus WHERE dish_id = ?", d.ID).Error; err != nil {
		return 0, err
	}
	for _, code := range n.Kinds {
		k, err := take[shop.ClassKind](t.DB, "The kind of class", "code = ?", code)
		if err != nil {
			return 0, err
		}
		if !k.Dinner {
			return 0, field("kinds", "There is no dinner in %s.", k.Name)
		}
		if err := t.Clauses(clause.OnConflict{DoNothing: true}).Create(&shop.MenuDish{KindID: k.ID, DishID: d.ID}).Error; err != nil {
			return 0, err
		}
	}
	return d.ID, nil
}

// furnishDishes writes down the dishes of a shop document; one known by its name is
// brought up to it.
func (t tx) furnishDishes(f shop.Furnishing) error {
	for _, n := range f.Dishes {
		if err := n.Check(); err != nil {
			return err
		}
		known, err := many[shop.Dish](t.DB, "id", "name = ?", n.Name)
		if err != nil {
			return err
		}
		var id shop.DishID
		if len(known) == 1 {
			id = known[0].ID
		}
		if _, err := t.dish(id, n); err != nil {
			return err
		}
	}
	return nil
}

// MenuLine is one dish a dinner could have.
type MenuLine struct {
	shop.Dish
	OnMenu bool     // of every dinner of this kind
	Served bool     // wanted at this dinner, whoever sits there
	Away   []string `gorm:"-"` // severe needs of this table that it holds: kept off whatever was wanted (R13)
}

// DinnerMenu is what is served at one dinner.
type DinnerMenu struct {
	Dinner
	Lines []MenuLine
}

// Menu lists every dish for a dinner: those of its kind's menu first.
func (s *Store) Menu(ctx context.Context, code string) (*DinnerMenu, error) {
	sheet, err := s.TableSheet(ctx, code)
	if err != nil {
		return nil, err
	}
	return &DinnerMenu{Dinner: sheet.Dinner, Lines: sheet.Menu}, nil
}

// SetMenu says which dishes one dinner has: these and no others. A dish that holds what
// somebody at the table marked severe cannot be served (R13); left unnamed while it is
// away, it comes back with the menu when it may.
func (s *Store) SetMenu(ctx context.Context, by shop.Actor, code string, dishes []shop.DishID) error {
	return s.tx(ctx, func(t tx) error {
		c, err := t.lockClassCode(trim(code))
		if err != nil {
			return err
		}
		people, err := t.s.peopleOf(t.DB, c.ID)
		if err != nil {
			return err
		}
		lines, err := menuOf(t.DB, c.ID, severeOf(people[c.ID]))
		if err != nil {
			return err
		}
		for _, id := range dishes {
			if !slices.ContainsFunc(lines, func(l MenuLine) bool { return l.ID == id }) {
				return field("dish", "One of the dishes is not among the shop's.")
			}
		}
		for _, l := range lines {
			want := slices.Contains(dishes, l.ID)
			if want && len(l.Away) > 0 {
				return field("dish", "%s holds %s, which somebody at this table marked severe. It stays away from the whole table.", l.Name, strings.Join(l.Away, ", "))
			}
			if want == l.Served || len(l.Away) > 0 {
				continue
			}
			if err := t.Clauses(clause.OnConflict{UpdateAll: true}).Create(&shop.ClassDish{ClassID: c.ID, DishID: l.ID, Served: want, Since: t.now}).Error; err != nil {
				return err
			}
			what, from, to := "dish left out", l.Name, ""
			if want {
				what, from, to = "dish added", "", l.Name
			}
			if err := t.note(by, "class", int64(c.ID), what, from, to, ""); err != nil {
				return err
			}
		}
		return nil
	})
}

// menuOf reads the dishes a class could have; severe are the needs of its table.
func menuOf(db *gorm.DB, class shop.ClassID, severe []string) ([]MenuLine, error) {
	var lines []MenuLine
	err := db.Raw(`SELECT d.*, m.dish_id IS NOT NULL AS on_menu, COALESCE(cd.served, m.dish_id IS NOT NULL) AS served
		FROM dishes d JOIN classes c ON c.id = ? LEFT JOIN menus m ON m.dish_id = d.id AND m.kind_id = c.kind_id
		LEFT JOIN class_dishes cd ON cd.dish_id = d.id AND cd.class_id = c.id
		WHERE d.gone_at = 0 ORDER BY m.dish_id IS NULL, d.id`, class).Scan(&lines).Error
	for i := range lines {
		lines[i].Away = table.Dish{Holds: holdsOf(lines[i].Dish)}.Away(severe)
	}
	return lines, err
}

// dishesServed is what a class's dinner was meant to have, with what is away marked.
func (s *Store) dishesServed(db *gorm.DB, class shop.ClassID) ([]MenuLine, error) {
	people, err := s.peopleOf(db, class)
	if err != nil {
		return nil, err
	}
	lines, err := menuOf(db, class, severeOf(people[class]))
	return slices.DeleteFunc(lines, func(l MenuLine) bool { return !l.Served }), err
}

func holdsOf(d shop.Dish) []string {
	if d.Holds == "" {
		return nil
	}
	return strings.Split(d.Holds, ",")
}

func severeOf(people []seatPerson) []string {
	heads := make([]table.Person, len(people))
	for i, p := range people {
		heads[i] = p.Person
	}
	return table.Of(heads, table.Rules{Order: shop.Allergens}).Severe()
}

// dishesOf turns what is wanted at a dinner into the planner's words.
func dishesOf(lines []MenuLine) []table.Dish {
	var out []table.Dish
	for _, l := range lines {
		if l.Served {
			out = append(out, table.Dish{Name: l.Name, Holds: holdsOf(l.Dish), Board: l.Board})
		}
	}
	return out
}
