use super::*;

fn rack(length: Tenths, kerf: Tenths) -> Rack {
    Rack {
        bars: vec![Bar {
            length,
            count: None,
        }],
        trim: 0,
        kerf,
        share: true,
    }
}

fn plain(lengths: &[Tenths]) -> Vec<Piece> {
    lengths
        .iter()
        .map(|&length| Piece {
            length,
            ends: [EndCut::default(); 2],
        })
        .collect()
}

/// Numbers that follow each other as if by chance.
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        (self.0 >> 33) % n
    }
}

/// Every piece once, none past the end of its bar, none nearer to its neighbour than a cut.
fn sound(plan: &Plan, pieces: &[Piece], rack: &Rack) {
    let mut seen = plan.unplaced.clone();
    for bar in &plan.bars {
        let mut free = rack.trim;
        for place in &bar.places {
            seen.push(place.piece);
            if !place.shared {
                assert!(place.at >= free, "{plan:?}");
            }
            free = place.at + pieces[place.piece].length + rack.kerf;
        }
        assert!(free <= bar.length - rack.trim + rack.kerf, "{plan:?}");
    }
    seen.sort_unstable();
    assert_eq!(seen, (0..pieces.len()).collect::<Vec<_>>());
}

/// Fewest bars by trying every assignment.
fn exhaustive(sizes: &[Tenths], room: Tenths) -> usize {
    fn go(sizes: &[Tenths], at: usize, bins: &mut Vec<Tenths>, room: Tenths, best: &mut usize) {
        if bins.len() >= *best {
            return;
        }
        if at == sizes.len() {
            *best = bins.len();
            return;
        }
        for k in 0..bins.len() {
            if bins[k] + sizes[at] <= room {
                bins[k] += sizes[at];
                go(sizes, at + 1, bins, room, best);
                bins[k] -= sizes[at];
            }
        }
        bins.push(sizes[at]);
        go(sizes, at + 1, bins, room, best);
        bins.pop();
    }
    let mut best = sizes.len() + 1;
    go(sizes, 0, &mut Vec::new(), room, &mut best);
    best
}

#[test]
fn small_jobs_against_every_assignment() {
    let mut chance = Chance(1);
    for _ in 0..300 {
        let n = 2 + chance.below(8) as usize;
        let kerf = chance.below(40);
        let length = 600 + chance.below(400);
        let lengths: Vec<Tenths> = (0..n).map(|_| 50 + chance.below(length - 50)).collect();
        let rack = rack(length, kerf);
        let pieces = plain(&lengths);
        let plan = nest(&pieces, &rack);
        sound(&plan, &pieces, &rack);
        let sizes: Vec<Tenths> = lengths.iter().map(|l| l + kerf).collect();
        let best = exhaustive(&sizes, length + kerf);
        assert_eq!(
            plan.bars.len(),
            best,
            "{lengths:?} from {length}, kerf {kerf}"
        );
        assert!(plan.least_bars as usize <= best);
        assert!(
            plan.is_best(),
            "not proven: {lengths:?} from {length}, kerf {kerf}"
        );
    }
}

/// Kinds of instance of the bin-packing literature, drawn anew: uniform sizes 20 to 100 in bins of 150
/// and triplets that fill bins of 1000 without waste (both after Falkenauer, "A hybrid grouping genetic
/// algorithm for bin packing", Journal of Heuristics 2, 1996; from memory). Triplets have a known
/// optimum: a third of the items.
#[test]
fn uniform_and_triplet_instances() {
    let mut chance = Chance(7);
    let mut gaps = 0;
    for _ in 0..6 {
        let lengths: Vec<Tenths> = (0..120).map(|_| 20 + chance.below(81)).collect();
        let rack = rack(150, 0);
        let pieces = plain(&lengths);
        let plan = nest(&pieces, &rack);
        sound(&plan, &pieces, &rack);
        assert!(plan.bars.len() <= first_fit_decreasing(&lengths, 150));
        gaps += plan.bars.len() - plan.least_bars as usize;
    }
    assert_eq!(
        gaps, 0,
        "uniform instances are solved to the proven optimum"
    );
    for _ in 0..4 {
        let mut lengths = Vec::new();
        for _ in 0..20 {
            let a = 380 + chance.below(111);
            let b = 250 + chance.below((1000 - a) / 2 - 250 + 1);
            lengths.extend([a, b, 1000 - a - b]);
        }
        let rack = rack(1000, 0);
        let pieces = plain(&lengths);
        let plan = nest(&pieces, &rack);
        sound(&plan, &pieces, &rack);
        assert_eq!(plan.least_bars, 20);
        assert!(plan.bars.len() <= 21, "within one bar of the optimum");
    }
}

/// Martello and Toth (1990) give this kind of case for L2 over the plain sum: items just over half.
#[test]
fn bounds_that_see_large_items() {
    assert_eq!(by_length(&[60, 60, 60, 60], 100), 3);
    assert_eq!(by_threshold(&[60, 60, 60, 60], 100), 4);
    // 60 leaves 40 in its bar, so 41 needs another one
    assert_eq!(by_threshold(&[60, 60, 41, 41], 100), 3);
    assert_eq!(by_threshold(&[], 100), 0);
}

#[test]
fn the_programme_sees_what_sums_do_not() {
    // three of 34 don't go into 100, two do: 10 bars for 20, where the sum says 7
    let pieces = plain(&[34; 20]);
    let plan = nest(&pieces, &rack(100, 0));
    assert_eq!((plan.bars.len(), plan.least_bars), (10, 10));
}

#[test]
fn several_lengths_and_counts() {
    let mut two = rack(6000, 0);
    two.bars.push(Bar {
        length: 2500,
        count: Some(1),
    });
    // 2400 comes out of the offcut of 2500, 5900 out of a bar
    let plan = nest(&plain(&[5900, 2400]), &two);
    assert_eq!(plan.length(), 8500);
    assert!(plan.is_best());
    // there is only one of it
    let plan = nest(&plain(&[2400, 2400, 2400]), &two);
    sound(&plan, &plain(&[2400; 3]), &two);
    assert_eq!(plan.length(), 8500);
    let mut few = rack(6000, 0);
    few.bars[0].count = Some(1);
    let plan = nest(&plain(&[5000, 5000, 7000]), &few);
    assert_eq!((plan.bars.len(), plan.unplaced.len()), (1, 2));
}

#[test]
fn never_more_than_first_fit_decreasing() {
    let mut chance = Chance(11);
    for round in 0..40 {
        let n = 5 + chance.below(60) as usize;
        let lengths: Vec<Tenths> = (0..n).map(|_| 2000 + chance.below(28_000)).collect();
        let rack = rack(60_000, 30);
        let pieces = plain(&lengths);
        let plan = nest(&pieces, &rack);
        sound(&plan, &pieces, &rack);
        let sizes: Vec<Tenths> = lengths.iter().map(|l| l + 30).collect();
        let quick = first_fit_decreasing(&sizes, 60_030);
        assert!(plan.bars.len() <= quick, "round {round}");
        assert!(plan.least_bars as usize <= plan.bars.len());
    }
}

#[test]
fn two_hundred_pieces() {
    let mut chance = Chance(3);
    for kinds in [15, 200] {
        let sizes: Vec<Tenths> = (0..kinds).map(|_| 3000 + chance.below(25_000)).collect();
        let lengths: Vec<Tenths> = (0..200).map(|k| sizes[k % sizes.len()]).collect();
        let (rack, pieces) = (rack(60_000, 25), plain(&lengths));
        let plan = nest(&pieces, &rack);
        sound(&plan, &pieces, &rack);
        assert!(
            plan.bars.len() as u32 - plan.least_bars <= 1,
            "{} of {}",
            plan.bars.len(),
            plan.least_bars
        );
    }
}

#[test]
fn lengths_that_bars_add_up_to() {
    let mut two = rack(2400, 0);
    two.bars.push(Bar {
        length: 960,
        count: Some(2),
    });
    let of = |least| bound::reachable(least, &two);
    assert_eq!(
        [of(0), of(900), of(2000), of(3200), of(4400)],
        [0, 960, 2400, 3360, 4800]
    );
}

#[test]
fn mitres_share_a_cut() {
    // 50 x 50 cut at 45°, 1000 over the long points; one cut saves 50 and takes 2 · √2 of kerf
    let end = EndCut {
        kind: 1,
        mate: 1,
        saving: 500,
        kerf: 29,
    };
    let piece = Piece {
        length: 10_000,
        ends: [end; 2],
    };
    let mut rack = rack(60_000, 20);
    // six in 6 m: 60 000 of long points less 5 · 471
    let six = vec![piece; 6];
    let plan = nest(&six, &rack);
    assert_eq!(plan.bars.len(), 1);
    assert_eq!(plan.bars[0].places[5].at, 5 * (10_000 - 500 + 29));
    assert_eq!(plan.bars[0].left, 60_000 - (50_000 - 5 * 471 + 10_000) - 29);
    assert!(plan.is_best());
    rack.share = false;
    assert_eq!(nest(&six, &rack).bars.len(), 2);
}

#[test]
fn parallel_cuts_share_only_end_to_beginning() {
    // a leg of 50 cut at 45° at both ends, parallel: 950 along each edge, 1000 from tip to tip
    let end = |kind, mate| EndCut {
        kind,
        mate,
        saving: 500,
        kerf: 29,
    };
    let piece = Piece {
        length: 10_000,
        ends: [end(1, 2), end(2, 1)],
    };
    let other = Piece {
        length: 10_000,
        ends: [end(3, 4), end(4, 3)],
    };
    let rack = rack(60_000, 20);
    let plan = nest(&[piece; 6], &rack);
    assert_eq!(plan.bars.len(), 1);
    let turned: Vec<bool> = plan.bars[0].places.iter().map(|p| p.turned).collect();
    assert!(turned.iter().all(|t| *t == turned[0]));
    assert_eq!(plan.bars[0].left, 60_000 - (6 * 9_500 + 500 + 5 * 29) - 29);
    // another piece's end is no mate
    let plan = nest(&[piece, other], &rack);
    assert!(plan.bars[0].places.iter().all(|p| !p.shared));
    assert_eq!(plan.bars[0].left, 60_000 - (20_000 + 2 * 29) - 29);
}
