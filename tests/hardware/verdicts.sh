# verdicts.sh - Every verdict, told from a camera that has one format. Sourced with $format set.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-truth" "$lampread" /usr/bin/awk

for verdict in code blink steady-on steady-off flicker unlisted; do
    # A dark lamp is only told where the user points at it: nothing is seen of it.
    pointer=
    [ $verdict != steady-off ] || pointer=--lamp=status=91,40,16,16
    camera $verdict -F "$format" -s 160x120 -l "$(light_of $verdict)"
    read_live "$video" "$(seconds_of $verdict)" $verdict.json --book heron-h1 $pointer
    status=$?
    drop $verdict
    claim "$verdict is told in $format" is_told $verdict $camera_tolerance $verdict.truth $verdict.json
    tell_edges "$verdict in $format" $verdict $camera_tolerance $verdict.truth $verdict.json
    claim "with exit status 0" test $status = 0
done
cp ./*.json ./*.truth ./*.frames "$OUT"
conclude
