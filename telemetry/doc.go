// Package telemetry tells the shop's network what the rig does, by MQTT.
//
// It only tells. Nothing received over MQTT can change an output (invariant
// 13): the client subscribes to one topic, the rig's command topic, only to
// log what arrives there and to ignore it, and no type of this package has a
// way back to the loop. Telemetry is no alarm system and no safety device: a
// message may come late, twice or not at all.
//
// The caller, the loop, never waits (invariant 14): Tell and Record copy into
// queues of fixed size. When the broker is away the oldest channel values are
// dropped and counted. Cycle summaries go to a folder on disk and are deleted
// only when the broker has acknowledged them.
//
// Without a broker's address an embedded one is started (sub-folder broker).
// Only paho.go knows the client library, only broker/mochi.go the broker's.
// Start reading at telemetry.go, then sender.go; topics.go is the table that
// docs/telemetry.md shows.
package telemetry
