// Command trammel searches wheel-suspension geometry: it moves a linkage through its travel, searches the
// box in which its points may lie, and says what to build. Type trammel --help.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, cancel := context.WithCancel(context.Background())
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	if !signal.Ignored(syscall.SIGHUP) { // a closed terminal is no reason to lose a minute; nohup is one to go on
		signal.Notify(signals, syscall.SIGHUP)
	}
	go func() {
		<-signals
		// The first signal asks for a clean end; the second finds no handler and kills.
		signal.Stop(signals)
		cancel()
	}()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
