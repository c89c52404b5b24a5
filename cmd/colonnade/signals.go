package main

import (
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// onSignals closes stop at the first interrupt. The second one ends the program at once: frames have their names only
// when they are whole, so nothing is lost. A terminal that goes away counts as an interrupt, unless the program was
// started so as to outlive it (nohup). report says where the work stands, when asked for by a signal.
func onSignals(words io.Writer, report func()) (stop <-chan struct{}, signalled func() int, done func()) {
	signals := make(chan os.Signal, 4)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	if !signal.Ignored(syscall.SIGHUP) {
		signal.Notify(signals, syscall.SIGHUP)
	}
	if statusSignal != nil {
		signal.Notify(signals, statusSignal)
	}
	stopped := make(chan struct{})
	number := 0
	go func() {
		for s := range signals {
			if s == statusSignal {
				report()
				continue
			}
			if number != 0 {
				os.Exit(128 + number)
			}
			number = int(syscall.SIGINT)
			if n, ok := s.(syscall.Signal); ok {
				number = int(n)
			}
			fmt.Fprintln(words, "colonnade: stopping after the frames in hand; once more to stop at once")
			close(stopped)
		}
	}()
	return stopped, func() int { <-stopped; return number }, func() { signal.Stop(signals); close(signals) }
}
