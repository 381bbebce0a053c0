package store

import (
	"errors"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// repeatKey remembers that a use case was asked for and what came of it, so that the
// same press of a button, repeated by a bad connection, counts once.
type repeatKey struct {
	Key         string `gorm:"primaryKey"`
	Route       string `gorm:"primaryKey"`
	Actor       string `gorm:"primaryKey"`
	Fingerprint string
	Status      int
	Body        string
	At          unit.Instant
}

func (repeatKey) TableName() string { return "repeat_keys" }

// Once names one press of a button. The zero Once means: no protection asked for.
type Once struct {
	Key         string // from the form or the Idempotency-Key header
	Fingerprint string // of what was asked, so that a key is not used for two different things
}

// errReused tells that a key came back with another question.
var errReused = &shop.Error{Kind: shop.Invalid, Code: "key_reused", Text: "This Idempotency-Key was already used for a different request."}

// repeated returns the result saved under the key, if this press was seen before.
// The row is written in the same transaction as the change it protects.
func (t tx) repeated(o Once, route string, by shop.Actor) (result string, seen bool, err error) {
	if o.Key == "" {
		return "", false, nil
	}
	var k repeatKey
	err = t.Where("key = ? AND route = ? AND actor = ?", o.Key, route, by.Name).Take(&k).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return "", false, nil
	}
	if err != nil {
		return "", false, err
	}
	if k.Fingerprint != o.Fingerprint {
		return "", false, errReused
	}
	return k.Body, true, nil
}

// remember saves a result under the key.
func (t tx) remember(o Once, route string, by shop.Actor, result string) error {
	if o.Key == "" {
		return nil
	}
	err := t.Create(&repeatKey{Key: o.Key, Route: route, Actor: by.Name, Fingerprint: o.Fingerprint, Body: result, At: t.now}).Error
	if isDuplicate(err) {
		return shop.ErrStale // the other press was committed between our look and our write
	}
	return err
}
