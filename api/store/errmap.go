package store

import (
	"errors"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/mattn/go-sqlite3"
	"gorm.io/gorm"

	"flitchbook/api/shop"
)

// A broken constraint means the same on both databases. gorm translates some of
// them on some databases; this is the one place that knows all.

// isDuplicate says whether err is a broken UNIQUE or PRIMARY KEY.
func isDuplicate(err error) bool {
	if errors.Is(err, gorm.ErrDuplicatedKey) {
		return true
	}
	var lite sqlite3.Error
	if errors.As(err, &lite) {
		return lite.ExtendedCode == sqlite3.ErrConstraintUnique || lite.ExtendedCode == sqlite3.ErrConstraintPrimaryKey
	}
	var pg *pgconn.PgError
	return errors.As(err, &pg) && pg.Code == "23505"
}

// notFound turns gorm's word for an empty result into ours, naming what was sought.
func notFound(err error, what string) error {
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return shop.Missing(what)
	}
	return err
}

// take reads exactly one row or says that what could not be found.
func take[T any](db *gorm.DB, what string, where string, args ...any) (*T, error) {
	var v T
	if err := db.Where(where, args...).Take(&v).Error; err != nil {
		return nil, notFound(err, what)
	}
	return &v, nil
}

// many reads rows in a stated order; none is an empty list.
func many[T any](db *gorm.DB, order string, where string, args ...any) ([]T, error) {
	var v []T
	err := db.Where(where, args...).Order(order).Find(&v).Error
	return v, err
}

// changed runs an UPDATE that must hit exactly one row; otherwise no is returned.
func changed(res *gorm.DB, no error) error {
	if res.Error != nil {
		return res.Error
	}
	if res.RowsAffected != 1 {
		return no
	}
	return nil
}

// trim cuts the spaces people leave at the ends of what they type.
func trim(s string) string { return strings.TrimSpace(s) }
