package qa

import (
	"errors"
	"fmt"
	"runtime/debug"
)

// fault is a panic of work that went on beside the main line.
type fault struct {
	value any
	stack []byte
}

func (f *fault) Error() string { return fmt.Sprintf("%v\n%s", f.value, f.stack) }

// Beside does work and turns a panic in it into an error that Raise knows.
func Beside(work func() error) (err error) {
	defer func() {
		if x := recover(); x != nil {
			err = &fault{x, debug.Stack()}
		}
	}()
	return work()
}

// Raise panics with an error that was a panic elsewhere, and returns any other.
func Raise(err error) error {
	if f := (*fault)(nil); errors.As(err, &f) {
		panic(f)
	}
	return err
}
