package store

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
)

// Furnish sets the shop up from one document, in one transaction. Things are known by
// their code or name: what is there already is brought up to the document, nothing is
// taken away. Accounts are not made here, since they need a password: see AddAccount.
func (s *Store) Furnish(ctx context.Context, by shop.Actor, f shop.Furnishing) error {
	return s.tx(ctx, func(t tx) error {
		kinds := map[string]shop.KindID{}
		for _, k := range f.Kinds {
			id, err := upsert(t, &k, "code = ?", k.Code)
			if err != nil {
				return fmt.Errorf("class kind %s: %w", k.Code, err)
			}
			kinds[k.Code] = shop.KindID(id)
		}
		for _, p := range f.Prices {
			kind, ok := kinds[p.Kind]
			if !ok {
				return shop.Bad("furnish", "A price names the class kind %q, which is not in the document.", p.Kind)
			}
			row := shop.Price{KindID: kind, Seat: p.Seat, Cents: p.Cents, From: p.From}
			if _, err := upsert(t, &row, "kind_id = ? AND seat = ? AND from_at = ?", kind, p.Seat, p.From); err != nil {
				return fmt.Errorf("price of %s: %w", p.Kind, err)
			}
		}
		for _, o := range f.Private {
			kind, ok := kinds[o.Kind]
			if !ok {
				return shop.Bad("furnish", "The private offer %s names the class kind %q, which is not in the document.", o.Name, o.Kind)
			}
			row := shop.PrivateOffer{KindID: kind, Name: o.Name, FlatCents: o.Flat, Least: o.Least, Most: o.Most, Words: o.Words}
			if o.Name == "" || o.Least < 1 || o.Most < o.Least || o.Most > shop.MostPeople || o.Flat < 0 {
				return shop.Bad("furnish", "The private offer %q needs a name and numbers of people from 1 to %d.", o.Name, shop.MostPeople)
			}
			if _, err := upsert(t, &row, "name = ?", o.Name); err != nil {
				return fmt.Errorf("private offer %s: %w", o.Name, err)
			}
		}
		if err := t.furnishMeat(f); err != nil {
			return err
		}
		if err := t.furnishCure(f); err != nil {
			return err
		}
		if err := t.furnishDishes(f); err != nil {
			return err
		}
		if err := t.furnishRooms(f); err != nil {
			return err
		}
		for _, d := range f.ClosedDays {
			if err := t.Save(&d).Error; err != nil { // keyed by its day: all of it is the document's
				return fmt.Errorf("closed day %s: %w", d.Day, err)
			}
		}
		if err := t.keepAddress(f); err != nil {
			return err
		}
		return t.note(by, "shop", 0, "furnished", "", "", f.Name)
	})
}

// Names under which the settings keep what the document says of the shop's door.
const (
	nameSetting     = "shop_name"
	placeSetting    = "shop_place"
	streetSetting   = "shop_street"
	regionSetting   = "shop_region"
	postcodeSetting = "shop_postcode"
	countrySetting  = "shop_country"
	phoneSetting    = "shop_phone"
)

// keepAddress keeps name and address; a part the document leaves out stays as it was.
func (t tx) keepAddress(f shop.Furnishing) error {
	for _, part := range [][2]string{{nameSetting, f.Name}, {placeSetting, f.Place}, {streetSetting, f.Street}, {regionSetting, f.Region},
		{postcodeSetting, f.Postcode}, {countrySetting, f.Country}, {phoneSetting, f.Phone}} {
		if part[1] == "" {
			continue
		}
		if strings.ContainsAny(part[1], "\r\n<>") {
			return shop.Bad("furnish", "The shop's %s is one line of plain text, not %q.", strings.TrimPrefix(part[0], "shop_"), part[1])
		}
		if err := t.keepSetting(part[0], part[1]); err != nil {
			return err
		}
	}
	return nil
}

// Address reads where the shop's door is.
func (s *Store) Address(ctx context.Context) (shop.Address, error) {
	var rows []struct{ Name, Value string }
	if err := s.read(ctx).Raw("SELECT name, value FROM settings WHERE name LIKE 'shop_%'").Scan(&rows).Error; err != nil {
		return shop.Address{}, err
	}
	part := map[string]string{}
	for _, r := range rows {
		part[r.Name] = r.Value
	}
	return shop.Address{Street: part[streetSetting], Place: part[placeSetting], Region: part[regionSetting],
		Postcode: part[postcodeSetting], Country: part[countrySetting], Phone: part[phoneSetting]}, nil
}

func (t tx) furnishMeat(f shop.Furnishing) error {
	for _, p := range f.Plants {
		if _, err := upsert(t, &p, "name = ?", p.Name); err != nil {
			return fmt.Errorf("plant %s: %w", p.Name, err)
		}
	}
	for _, o := range f.Outlets {
		if err := o.Check(); err != nil {
			return err
		}
		if _, err := upsert(t, &o, "species = ? AND cut = ? AND way = ?", o.Species, o.Cut, o.Way); err != nil {
			return fmt.Errorf("outlet of %s: %w", o.Cut, err)
		}
	}
	for _, ff := range f.Farms {
		farm := ff.Farm
		id, err := upsert(t, &farm, "code = ?", farm.Code)
		if err != nil {
			return fmt.Errorf("farm %s: %w", farm.Name, err)
		}
		for _, p := range ff.Profiles {
			p.FarmID = shop.FarmID(id)
			if _, err := upsert(t, &p, "farm_id = ? AND species = ? AND breed = ?", id, p.Species, p.Breed); err != nil {
				return fmt.Errorf("yield of %s: %w", farm.Name, err)
			}
		}
	}
	return nil
}

func (t tx) furnishCure(f shop.Furnishing) error {
	for _, r := range f.Recipes {
		if _, err := upsert(t, &r, "code = ?", r.Code); err != nil {
			return fmt.Errorf("recipe %s: %w", r.Code, err)
		}
	}
	if err := t.furnishLimits(f); err != nil {
		return err
	}
	jars := map[string]shop.JarID{}
	for _, j := range f.Jars {
		id, err := upsert(t, &j, "code = ?", j.Code)
		if err != nil {
			return fmt.Errorf("jar %s: %w", j.Code, err)
		}
		jars[j.Code] = shop.JarID(id)
	}
	for _, l := range f.Lots {
		lot := l.IngredientLot
		id, err := upsert(t, &lot, "ingredient = ? AND code = ?", lot.Ingredient, lot.Code)
		if err != nil {
			return fmt.Errorf("lot %s: %w", lot.Code, err)
		}
		for _, code := range l.Jars {
			jar, ok := jars[code]
			if !ok {
				return shop.Bad("furnish", "Lot %s goes into the jar %q, which is not in the document.", lot.Code, code)
			}
			row := shop.JarLot{JarID: jar, LotID: shop.LotID(id), From: lot.OpenedOn.At(0, 0, t.s.Loc)}
			if _, err := upsert(t, &row, "jar_id = ? AND lot_id = ?", jar, id); err != nil {
				return fmt.Errorf("lot %s in jar %s: %w", lot.Code, code, err)
			}
		}
	}
	for _, sc := range f.Scales {
		if _, err := upsert(t, &sc, "name = ?", sc.Name); err != nil {
			return fmt.Errorf("scale %s: %w", sc.Name, err)
		}
	}
	return nil
}

func (t tx) furnishRooms(f shop.Furnishing) error {
	for _, r := range f.Rooms {
		room := r.Room
		id, err := upsert(t, &room, "code = ?", room.Code)
		if err != nil {
			return fmt.Errorf("room %s: %w", room.Code, err)
		}
		for _, p := range r.Places {
			codes := p.Codes
			for i := 1; i <= p.Count; i++ {
				codes = append(codes, p.Prefix+strconv.Itoa(i))
			}
			for i, code := range codes {
				row := shop.Place{RoomID: shop.RoomID(id), Kind: p.Kind, Code: code, Bottom: i >= len(codes)-p.Bottom}
				if _, err := upsert(t, &row, "code = ?", code); err != nil {
					return fmt.Errorf("place %s: %w", code, err)
				}
			}
		}
	}
	return nil
}

// upsert inserts v, or writes all its columns over the row that is there, and returns
// the row's id.
func upsert[T any](t tx, v *T, where string, args ...any) (int64, error) {
	var id int64
	res := t.Model(new(T)).Where(where, args...).Limit(1).Pluck("id", &id)
	if res.Error != nil && !errors.Is(res.Error, gorm.ErrRecordNotFound) {
		return 0, res.Error
	}
	if id != 0 {
		return id, t.Model(new(T)).Where("id = ?", id).Select("*").Omit("id").Updates(v).Error
	}
	if err := t.Create(v).Error; err != nil {
		return 0, err
	}
	err := t.Model(new(T)).Where(where, args...).Limit(1).Pluck("id", &id).Error
	return id, err
}

// Setting reads a value the shop keeps by name; "" when it was never set.
func (s *Store) Setting(ctx context.Context, name string) (string, error) {
	var v string
	err := s.read(ctx).Raw("SELECT value FROM settings WHERE name = ?", name).Scan(&v).Error
	return v, err
}

// SetSetting keeps a value by name.
func (s *Store) SetSetting(ctx context.Context, name, value string) error {
	return s.tx(ctx, func(t tx) error { return t.keepSetting(name, value) })
}

func (t tx) keepSetting(name, value string) error {
	return t.Exec("INSERT INTO settings (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", name, value).Error
}
