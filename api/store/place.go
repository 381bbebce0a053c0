package store

import (
	"errors"

	"gorm.io/gorm"

	"flitchbook/api/shop"
)

// place puts a slab in a place, out of the one it was in. The database lets neither be
// used twice.
func (t tx) place(sl *shop.Slab, p *shop.Place) error {
	if err := t.lock("rooms", int64(p.RoomID)); err != nil { // a hold on the room must see it or come after it
		return err
	}
	if err := t.freePlace(sl.ID); err != nil {
		return err
	}
	err := t.Create(&shop.Placement{PlaceID: p.ID, SlabID: sl.ID, Since: t.now}).Error
	if isDuplicate(err) {
		return shop.Stop("place_taken", "%s is taken.", p.Code)
	}
	return err
}

// freePlace ends a slab's placement, if it has one.
func (t tx) freePlace(id shop.SlabID) error {
	return t.Model(&shop.Placement{}).Where("slab_id = ? AND until_at = 0", id).Update("until_at", t.now).Error
}

// placeByCode finds a place of one of the kinds as it is scanned.
func (t tx) placeByCode(code, field string, kinds ...shop.PlaceKind) (*shop.Place, error) {
	var p shop.Place
	err := t.Where("upper(code) = upper(?) AND kind IN ?", trim(code), kinds).Take(&p).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, &shop.Error{Kind: shop.Invalid, Code: "place", Text: "That is not a place for this step.", Fields: map[string]string{field: "There is no such place here: " + trim(code)}}
	}
	return &p, err
}

const freeOnly = "kind = ? AND NOT EXISTS (SELECT 1 FROM placements WHERE place_id = places.id AND until_at = 0)"

// firstFree is the first free place of a kind, or nil.
func (t tx) firstFree(kind shop.PlaceKind) (*shop.Place, error) {
	var p shop.Place
	err := t.Where(freeOnly, kind).Order("id").Take(&p).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, nil
	}
	return &p, err
}

// placeOf is where a slab lies, or nil.
func placeOf(db *gorm.DB, id shop.SlabID) (*shop.Place, error) {
	var p shop.Place
	err := db.Where("id = (SELECT place_id FROM placements WHERE slab_id = ? AND until_at = 0)", id).Take(&p).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, nil
	}
	return &p, err
}
