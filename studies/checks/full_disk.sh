#!/usr/bin/env bash
# A disk that fills up while a study runs, on Linux, by a user who may mount: bash full_disk.sh TRAMMEL
# The run must end with a sentence, every closed part must read, and after room is made it must go on to the rows of one in
# one piece.
set -euo pipefail

trammel=$(realpath "$1")
work=$(mktemp -d)
finish() {
	mountpoint -q "$work/disk" && umount "$work/disk"
	rm -rf "$work"
}
trap finish EXIT
mkdir "$work/disk"
mount -t tmpfs -o size=160m tmpfs "$work/disk"

"$trammel" init "$work/car" >/dev/null
cat >"$work/car/night.yaml" <<'STUDY'
format: 1
study: a night on a small disk
geometry: corncrake-front.yaml
motions: {heave: {wheel_travel: [-50, 50], positions: 3}}
vary: {steering_arm.z: {by: 10}, rack_end.z: {by: 10}, upper_ball.z: {by: 10}, lower_ball.z: {by: 10}, pushrod_head.y: {by: 10}}
targets: {bump steer: {measure: toe, in: heave, hold: 0.08, within: 0.05}}
stages: [{plan: random, runs: 1000000}]
budget: {disk: 130MB}   # parts of a sixteenth of it
STUDY
"$trammel" run "$work/car/night.yaml" --out "$work/disk/night" &
run=$!
until [ -e "$work/disk/night/runs/part-000003.parquet" ]; do sleep 0.05; done
echo "-- the disk is filled by somebody else"
head -c 155m /dev/zero >"$work/disk/filler" 2>/dev/null || true
code=0
wait $run || code=$?
echo "-- the run has ended with code $code"
[ "$code" -eq 1 ]
"$trammel" check "$work/disk/night"
echo "-- room is made"
rm "$work/disk/filler"
"$trammel" run "$work/car/night.yaml" --out "$work/disk/night" --quiet
"$trammel" check "$work/disk/night"
echo "-- compared with one in one piece"
"$trammel" run "$work/car/night.yaml" --out "$work/whole" --quiet
"$trammel" gather "$work/whole" "$work/disk/night" --out "$work/both" | sed "s|$work/||g"
