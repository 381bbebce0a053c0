package store

import (
	"errors"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
)

// uid is a calendar entry's name for life.
func (s *Store) uid(kind string, id int64) string {
	return fmt.Sprintf("%s-%d@%s", kind, id, s.Config.Domain)
}

// setEntry writes a calendar entry. An entry that says nothing new is left alone; any
// other change raises its SEQUENCE (R41). It returns the entry as it now stands.
func (t tx) setEntry(e shop.Entry) (shop.Entry, error) {
	var old shop.Entry
	err := t.Where("uid = ?", e.UID).Take(&old).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		e.ChangedAt = t.now
		return e, t.Create(&e).Error
	}
	if err != nil {
		return e, err
	}
	e.Sequence, e.ChangedAt = old.Sequence, old.ChangedAt
	if e == old {
		return old, nil
	}
	e.Sequence, e.ChangedAt = old.Sequence+1, t.now
	return e, t.Model(&shop.Entry{}).Where("uid = ?", e.UID).Select("*").Omit("uid").Updates(&e).Error
}

// cancelEntry marks an entry called off; it stays in the feeds.
func (t tx) cancelEntry(uid string) error {
	return t.Model(&shop.Entry{}).Where("uid = ? AND NOT cancelled", uid).
		Updates(map[string]any{"cancelled": true, "sequence": gorm.Expr("sequence + 1"), "changed_at": t.now}).Error
}
