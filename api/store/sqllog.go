package store

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"gorm.io/gorm/logger"
)

// sqlLog logs statements that failed or took long. One cut off because nobody waits for it
// any more (a visitor who closed the page, the program asked to stop) is no fault of the
// database's: it is a note, or a log of errors would fill with other people's impatience.
type sqlLog struct {
	logger.Interface
	log *slog.Logger
}

func newSQLLog(log *slog.Logger) sqlLog {
	return sqlLog{log: log, Interface: logger.NewSlogLogger(log, logger.Config{
		SlowThreshold: 500 * time.Millisecond, LogLevel: logger.Warn, IgnoreRecordNotFoundError: true,
	})}
}

// gorm takes down what Scan runs with a recorder of its own, which fills the parameters in
// unless told not to.
func init() { logger.RecorderParamsFilter = sqlLog{}.ParamsFilter }

// LogMode gives the same log at another level.
func (l sqlLog) LogMode(level logger.LogLevel) logger.Interface {
	return sqlLog{l.Interface.LogMode(level), l.log}
}

// ParamsFilter keeps what is asked for out of the log: names of customers must never
// reach it. gorm looks for this method by its name.
func (sqlLog) ParamsFilter(_ context.Context, sql string, _ ...any) (string, []any) { return sql, nil }

// Trace logs one statement: every one at the level debug, and those that went wrong.
func (l sqlLog) Trace(ctx context.Context, begin time.Time, fc func() (sql string, rows int64), err error) {
	if l.log.Enabled(ctx, slog.LevelDebug) {
		sql, rows := fc()
		l.log.LogAttrs(ctx, slog.LevelDebug, "SQL", slog.String("sql", sql), slog.Int64("rows", rows))
	}
	if cutOff(err) {
		sql, _ := fc()
		l.log.LogAttrs(ctx, slog.LevelInfo, "SQL cut off", slog.String("sql", sql))
		return
	}
	l.Interface.Trace(ctx, begin, fc, err)
}

// cutOff says whether err only means that whoever asked waits no longer. A time limit that
// ran out is not that.
func cutOff(err error) bool { return errors.Is(err, context.Canceled) }
