"""What holds for every method: shared sources, scale, mirrors, worn edges, lenses, cameras, refusals."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest
from benchmarks import scenes
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.errors import MarksNotUsable
from archive.metrology.sources import covariance, linear
from archive.photogrammetry import focal, heights, lens, line, plane, round, set_back, square_on
from archive.photogrammetry.marks import (
    IN_THE_PLANE,
    Mark,
    Shot,
    camera,
    known_size,
    mark,
    not_sure,
    standing_out,
    stated,
)
from archive.photogrammetry.marks import set_back as behind

# A wall 4 m by 3 m before a camera of 3000 px, turned and a little tilted; places by the simulator.
WALL = np.array([(0, 0, 0), (4000, 0, 0), (4000, 3000, 0), (0, 3000, 0)], dtype=float)
SIGHT = scenes.random_sight(
    np.random.default_rng(4), (2000, 1500, 0), 4000, share=(0.5, 0.55), yaw_deg=(20, 25)
)
CAMERA = camera(SIGHT.focal, 0.01 * SIGHT.focal, SIGHT.principal, 10.0)
WIDE, TALL = known_size("width", 4000.0, 3.0), known_size("height", 3000.0, 3.0)


def marks(places: np.ndarray, name: str, sigma_px: float = 1.0) -> list[Mark]:
    return [Mark(f"{name} {i}", x, y, sigma_px) for i, (x, y) in enumerate(SIGHT.see(places))]


CORNERS = marks(WALL, "corner")
LEFT, MIDDLE, RIGHT = marks(np.array([(500.0, 1000, 0), (1700, 1000, 0), (3300, 1000, 0)]), "post")


class TestSharedSources:
    def test_two_sizes_from_one_known_rectangle_are_correlated_through_it(self):
        first = plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, MIDDLE])
        second = plane.size_by_rectangle(CORNERS, WIDE, TALL, [MIDDLE, RIGHT])
        together = plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT])

        # The posts stand in one line, so the parts make the whole, and so must their doubt.
        whole = linear([(1.0, first.size), (1.0, second.size)])
        assert whole.value == pytest.approx(together.value_mm, rel=1e-6)
        assert whole.standard_uncertainty == pytest.approx(together.standard_uncertainty_mm, rel=1e-3)
        # The post between them is in both with opposite sign, the rectangle with the same.
        apart = hypot(first.standard_uncertainty_mm, second.standard_uncertainty_mm)
        assert abs(whole.standard_uncertainty - apart) > 0.05 * apart

    def test_a_corner_that_is_also_an_end_is_one_mark_and_the_known_side_comes_back_exactly(self):
        width = plane.size_by_rectangle(CORNERS, WIDE, TALL, CORNERS[:2])
        assert width.value_mm == pytest.approx(4000.0, abs=1e-6)
        assert width.standard_uncertainty_mm == pytest.approx(
            3.0, rel=1e-6
        )  # of the width, and of nothing else
        assert covariance(width.size, WIDE) == pytest.approx(9.0, rel=1e-6)

    def test_marks_with_one_record_are_one_source_under_any_name(self):
        again = replace(CORNERS[0], name="the same corner", record="corner 0")
        side = plane.size_by_rectangle(CORNERS, WIDE, TALL, [again, CORNERS[1]])
        assert side.standard_uncertainty_mm == pytest.approx(3.0, rel=1e-6)


class TestLaws:
    @given(factor=st.floats(0.01, 100))
    @settings(max_examples=25, deadline=None)
    def test_a_thing_twice_as_large_has_sizes_and_doubts_twice_as_large(self, factor):
        small = plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT])
        large = plane.size_by_rectangle(
            CORNERS,
            known_size("w", 4000 * factor, 3 * factor),
            known_size("h", 3000 * factor, 3 * factor),
            [LEFT, RIGHT],
        )
        assert large.value_mm == pytest.approx(factor * small.value_mm, rel=1e-9)
        assert large.standard_uncertainty_mm == pytest.approx(
            factor * small.standard_uncertainty_mm, rel=1e-6
        )

    @given(
        ends=st.tuples(
            st.floats(200, 3800), st.floats(200, 2800), st.floats(200, 3800), st.floats(200, 2800)
        ).filter(lambda e: hypot(e[0] - e[2], e[1] - e[3]) > 300),
        out=st.floats(-300, 300),
    )
    @settings(max_examples=25, deadline=None)
    def test_without_noise_every_size_on_or_off_the_wall_comes_out_exactly(self, ends, out):
        places = np.array([(ends[0], ends[1], out), (ends[2], ends[3], out)])
        answer = set_back.size_off_a_rectangle(
            CORNERS,
            WIDE,
            TALL,
            marks(places, "end"),
            standing_out(stated("depth", "end", out, 1.0)),
            Shot(CAMERA),
        )
        assert answer.value_mm == pytest.approx(hypot(ends[0] - ends[2], ends[1] - ends[3]), rel=1e-6)

    def test_a_mirrored_photo_gives_the_same_sizes(self):
        def mirrored(some: list[Mark]) -> list[Mark]:
            return [replace(m, x_px=2 * scenes.MIDDLE[0] - m.x_px) for m in some]

        lies = behind(stated("depth", "asked", 120.0, 5.0))
        told = camera(SIGHT.focal, 0.0, (2 * scenes.MIDDLE[0] - SIGHT.principal[0], SIGHT.principal[1]), 0.0)
        plain = set_back.size_off_a_rectangle(
            CORNERS, WIDE, TALL, [LEFT, RIGHT], lies, Shot(camera(SIGHT.focal, 0.0, SIGHT.principal, 0.0))
        )
        turned = set_back.size_off_a_rectangle(
            mirrored(CORNERS), WIDE, TALL, mirrored([LEFT, RIGHT]), lies, Shot(told)
        )
        assert turned.value_mm == pytest.approx(plain.value_mm, rel=1e-9)
        assert turned.standard_uncertainty_mm == pytest.approx(plain.standard_uncertainty_mm, rel=1e-6)

    def test_one_seed_gives_one_answer(self):
        shot = Shot(CAMERA, seed=8, draws=3000, force_monte_carlo=True)
        answers = [plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT], shot=shot) for _ in range(2)]
        assert answers[0].interval_95_mm == answers[1].interval_95_mm
        other = plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT], shot=replace(shot, seed=9))
        assert other.interval_95_mm != answers[0].interval_95_mm

    def test_the_sources_always_make_up_the_doubt_that_is_stated(self):
        for shot in (Shot(CAMERA), Shot(CAMERA, force_monte_carlo=True)):
            answer = plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT], not_sure("asked"), shot)
            assert sum(share for _, share in answer.size.shares()) == pytest.approx(1.0)
            kinds = {source.kind for source in answer.size.sensitivities}
            assert {"mark", "known size", "focal length", "depth"} <= kinds


class TestWhereItLies:
    def test_not_sure_says_how_much_of_the_doubt_that_is(self):
        sure = plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT], IN_THE_PLANE, Shot(CAMERA))
        unsure = plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT], not_sure("asked"), Shot(CAMERA))
        distance = unsure.diagnostics["distance_mm"]
        # By hand: size x 50 mm / distance, beside what there was.
        depth = unsure.value_mm * 50 / distance
        assert sqrt(unsure.diagnostics["depth_share"]) * unsure.standard_uncertainty_mm == pytest.approx(
            depth, rel=0.01
        )
        assert unsure.diagnostics["u_with_depth_known_mm"] == pytest.approx(
            sure.standard_uncertainty_mm, rel=0.1
        )
        assert [warning.code for warning in unsure.warnings] == ["depth-not-sure"]

    def test_the_doubt_of_not_sure_can_be_chosen(self):
        ask = [
            plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT], not_sure("x", u), Shot(CAMERA))
            for u in (50, 100)
        ]
        depth = [sqrt(a.diagnostics["depth_share"]) * a.standard_uncertainty_mm for a in ask]
        assert depth[1] == pytest.approx(2 * depth[0], rel=0.01)

    def test_along_an_edge_what_stands_off_moves_towards_the_foot_of_the_eye(self):
        # An edge square to the view at 5 m, seen from its zero: what stands 500 mm nearer is 10 % nearer to zero.
        told = Shot(camera(3000.0, 0.0, (2000.0, 1500.0), 0.0))
        at = [0.0, 1000.0, 2500.0]
        points = [Mark(f"p{i}", 2000 + 3000 * x / 5000, 1500.0) for i, x in enumerate(at)]
        asked = Mark("asked", 2000 + 3000 * 2000 / 5000, 1500.0)
        known = [known_size(f"p{i}", x, 1.0) for i, x in enumerate(at)]
        on = line.position_between_known(points, known, asked, shot=told)
        off = line.position_between_known(
            points, known, asked, standing_out(stated("depth", "asked", 500.0, 1.0)), told
        )
        assert on.value_mm == pytest.approx(2000.0, abs=1e-6)
        assert off.value_mm == pytest.approx(1800.0, abs=1e-6)


class TestHowClearAMarkIs:
    def test_crisp_plain_and_worn_are_px_and_worn_adds_mm_of_the_thing(self):
        assert [mark("m", 0, 0, clear).sigma_px for clear in ("crisp", "plain", "worn")] == [0.7, 1.0, 2.5]
        assert mark("m", 0, 0, "worn").edge_u_mm > 0
        assert mark("m", 0, 0, snapped_px=0.2).sigma_px == 0.5  # never believed below the floor

    def test_a_worn_edge_at_either_end_adds_its_mm_to_the_size(self):
        bare = plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT])
        worn = [replace(m, edge_u_mm=20.0) for m in (LEFT, RIGHT)]
        rough = plane.size_by_rectangle(CORNERS, WIDE, TALL, worn)
        added = sqrt(rough.standard_uncertainty_mm**2 - bare.standard_uncertainty_mm**2)
        assert added == pytest.approx(20 * sqrt(2), rel=0.15)  # the scale differs a little from end to end

    def test_residuals_raise_the_doubt_of_marks_put_by_clearness_and_leave_a_given_one(self):
        world = np.concatenate([WALL[:, :2], [(2000, 0), (2000, 3000), (0, 1500), (4000, 1500)]])
        off = 2.2 * np.random.default_rng(3).choice([-1.0, 1.0], (8, 2))  # twice what was thought
        seen = SIGHT.see(np.column_stack([world, np.zeros(8)])) + off
        given = [Mark(f"p{i}", x, y, 1.0) for i, (x, y) in enumerate(seen)]
        named = [mark(f"p{i}", x, y, "plain") for i, (x, y) in enumerate(seen)]
        as_given, raised = (plane.size_by_points(some, world, [LEFT, RIGHT]) for some in (given, named))
        assert as_given.diagnostics["chi2"] > 15.51  # the 95 % point of chi-square for 8 degrees of freedom
        assert {w.code for w in as_given.warnings} == {w.code for w in raised.warnings} == {"residuals-large"}
        assert raised.standard_uncertainty_mm > as_given.standard_uncertainty_mm


class TestLens:
    SIGHT = scenes.with_lens(np.random.default_rng(6), SIGHT)

    def edges(self, n: int = 6) -> list[list[Mark]]:
        rng = np.random.default_rng(9)
        found = []
        for i, px in enumerate(scenes.straight_edges(rng, self.SIGHT, n, 8)):
            found.append(
                [
                    Mark(f"edge {i} {j}", x, y, 0.5)
                    for j, (x, y) in enumerate(px + rng.normal(0, 0.5, px.shape))
                ]
            )
        return found

    def test_found_from_edges_it_puts_the_wall_right_and_is_a_source_of_doubt(self):
        seen = self.SIGHT.see(np.concatenate([WALL, [(500.0, 1000, 0), (3300, 1000, 0)]]))
        bent = [Mark(f"m{i}", x, y, 0.5) for i, (x, y) in enumerate(seen)]
        fit = lens.lens_from_edges(self.edges(), (scenes.WIDTH, scenes.HEIGHT))
        assert fit.rms_before_px > 2 > 1 > fit.rms_after_px

        answer = plane.size_by_rectangle(bent[:4], WIDE, TALL, bent[4:], shot=Shot(lens=fit.lens))
        assert answer.value_mm == pytest.approx(2800.0, abs=3 * answer.standard_uncertainty_mm)
        assert answer.share_of("lens") > 0
        plain = plane.size_by_rectangle(bent[:4], WIDE, TALL, bent[4:])
        assert abs(plain.value_mm - 2800) > abs(answer.value_mm - 2800)

    def test_strength_and_centre_are_fitted_together_and_share_sources(self):
        strength, x, y = lens.lens_from_edges(self.edges(), (scenes.WIDTH, scenes.HEIGHT)).lens.numbers
        assert abs(strength.value - self.SIGHT.strength) < 3 * strength.standard_uncertainty
        assert hypot(*(np.array([x.value, y.value]) - self.SIGHT.lens_centre)) < 3 * hypot(
            x.standard_uncertainty, y.standard_uncertainty
        )
        assert abs(covariance(strength, x)) + abs(covariance(strength, y)) > 0

    def test_edges_that_bend_warn_and_name_the_remedy_where_no_lens_is_known(self):
        answer = plane.size_by_rectangle(
            CORNERS, WIDE, TALL, [LEFT, RIGHT], shot=Shot(straight_edges=self.edges())
        )
        (warning,) = answer.warnings
        assert warning.code == "lens-unknown"
        assert "find the lens" in warning.message
        known = lens.lens_from_edges(self.edges(), (scenes.WIDTH, scenes.HEIGHT)).lens
        quiet = plane.size_by_rectangle(
            CORNERS, WIDE, TALL, [LEFT, RIGHT], shot=Shot(lens=known, straight_edges=self.edges())
        )
        assert quiet.warnings == ()

    def test_a_mark_off_its_edge_is_named(self):
        edges = self.edges()
        edges[2][4] = replace(edges[2][4], x_px=edges[2][4].x_px + 30, y_px=edges[2][4].y_px + 30)
        with pytest.raises(MarksNotUsable, match="'edge 2 4'"):
            lens.lens_from_edges(edges, (scenes.WIDTH, scenes.HEIGHT))


class TestFocalLength:
    def test_both_conventions_and_the_rounding_of_a_whole_number(self):
        # By hand, 4:3: diagonal 5040 px over 43.2666 mm, width 4032 px over 36 mm; 26 mm to the nearest whole.
        found = focal.camera_from_35mm(26, (4032, 3024))
        assert found.diagonal_px == pytest.approx(26 * 5040 / 43.2666, rel=1e-5)
        assert found.width_px == pytest.approx(2912.0)
        assert found.u_rounding_px == pytest.approx(found.diagonal_px / 26 / sqrt(12), rel=1e-9)
        rounding, convention = sorted(found.camera.focal_px.sensitivities.values())
        assert (rounding, convention) == (
            pytest.approx(found.u_rounding_px),
            pytest.approx(0.02 * found.diagonal_px),
        )
        assert found.warnings == ()

    def test_an_upright_picture_has_the_same_focal_length(self):
        across, upright = (focal.camera_from_35mm(26, size) for size in ((4032, 3024), (3024, 4032)))
        assert across.diagonal_px == upright.diagonal_px
        assert across.width_px == upright.width_px

    def test_digital_zoom_and_a_crop_are_warned_about(self):
        zoomed = focal.camera_from_35mm(52, (4032, 3024), digital_zoom=2.0)
        cropped = focal.camera_from_35mm(26, (3000, 3000), original_size_px=(4032, 3024))
        smaller = focal.camera_from_35mm(26, (2016, 1512), original_size_px=(4032, 3024))
        assert [w.code for w in zoomed.warnings] == ["digital-zoom"]
        assert [w.code for w in cropped.warnings] == ["cropped"]
        assert smaller.warnings == ()

    @pytest.mark.parametrize("written", [0, -1, 65535, float("nan")])
    def test_what_no_lens_has_is_refused(self, written):
        with pytest.raises(MarksNotUsable) as refusal:
            focal.camera_from_35mm(written, (4032, 3024))
        assert refusal.value.code == "bad-focal"

    def test_true_focal_length_and_sensor_resolution(self):
        # 4.25 mm at 714.3 pixels a mm is 3035.7 px; half of that where the picture was made half as wide.
        whole, _ = focal.camera_from_sensor(4.25, 714.2857, (4032, 3024))
        half, _ = focal.camera_from_sensor(4.25, 714.2857, (2016, 1512), original_size_px=(4032, 3024))
        assert whole.focal_px.value == pytest.approx(3035.71, abs=0.01)
        assert half.focal_px.value == pytest.approx(3035.71 / 2, abs=0.01)

    def test_a_photo_of_which_nothing_is_known_gets_a_wide_doubt_and_a_warning(self):
        told, warnings = focal.assumed_camera((4000, 3000))
        assert told.focal_px.standard_uncertainty > 0.2 * told.focal_px.value
        assert [w.code for w in warnings] == ["focal-assumed"]


class TestRefusals:
    def test_the_sentence_names_the_marks_and_what_to_mark_instead(self):
        same = [CORNERS[0], replace(CORNERS[1], x_px=CORNERS[0].x_px + 2, y_px=CORNERS[0].y_px), *CORNERS[2:]]
        with pytest.raises(MarksNotUsable, match=r"'corner 0' and 'corner 1'.*further apart") as refusal:
            plane.size_by_rectangle(same, WIDE, TALL, [LEFT, RIGHT])
        assert refusal.value.code == "degenerate-points"

    @pytest.mark.parametrize("order", [(0, 2, 1, 3), (1, 3, 0, 2), (0, 1, 3, 2)])
    def test_corners_named_across_are_refused_and_any_walk_round_is_taken(self, order):
        with pytest.raises(MarksNotUsable) as refusal:
            plane.size_by_rectangle([CORNERS[i] for i in order], WIDE, TALL, [LEFT, RIGHT])
        assert refusal.value.code == "corner-order"

    def test_what_lies_off_the_plane_needs_a_focal_length(self):
        with pytest.raises(MarksNotUsable, match="focal length"):
            plane.size_by_rectangle(CORNERS, WIDE, TALL, [LEFT, RIGHT], not_sure("asked"))

    def test_a_thing_behind_the_camera_is_refused(self):
        with pytest.raises(MarksNotUsable) as refusal:
            square_on.size_by_proportion(
                CORNERS[:2], WIDE, [LEFT, RIGHT], standing_out(stated("depth", "x", 1e6, 1.0)), Shot(CAMERA)
            )
        assert refusal.value.code == "bad-offset"

    @pytest.mark.parametrize("u", [-1.0, float("nan"), float("inf")])
    def test_a_doubt_that_is_none_is_refused(self, u):
        with pytest.raises(MarksNotUsable) as refusal:
            known_size("width", 1000.0, u)
        assert refusal.value.code == "bad-uncertainty"

    def test_two_marks_at_one_place_whose_known_places_are_apart_are_named(self):
        world = np.vstack([WALL[:, :2], (1700.0, 1000.0)])
        points = [*CORNERS, replace(MIDDLE, x_px=CORNERS[1].x_px + 1, y_px=CORNERS[1].y_px)]
        with pytest.raises(MarksNotUsable, match="'corner 1' and 'post 1' are at the same place") as refusal:
            plane.size_by_points(points, world, [LEFT, RIGHT])
        assert refusal.value.code == "degenerate-points"

    def test_two_known_points_with_one_place_in_the_plane_are_named(self):
        world = np.vstack([WALL[:, :2], WALL[0, :2]])
        with pytest.raises(MarksNotUsable, match="'corner 0' and 'post 1' are given one and the same place"):
            plane.size_by_points([*CORNERS, MIDDLE], world, [LEFT, RIGHT])

    def test_a_circle_that_faces_nowhere_is_refused_with_the_words_there_are(self):
        turn = np.linspace(0, 2 * np.pi, 8, endpoint=False)
        rim = marks(np.column_stack([2000 + 900 * np.cos(turn), 1500 + 900 * np.sin(turn), 0 * turn]), "rim")
        with pytest.raises(MarksNotUsable, match="say down, left, right, up"):
            round.size_by_circle(
                rim, known_size("rim", 1800.0, 1.0), [LEFT, RIGHT], "sideways", shot=Shot(CAMERA)
            )


class TestHeights:
    """A level camera 1.5 m above the ground, 3000 px long, looks at posts 6 and 8 m away."""

    @staticmethod
    def seen(across: float, up: float, away: float) -> Mark:
        x, y = 2000 + 3000 * across / away, 1500 - 3000 * (up - 1500) / away
        return Mark(f"{across:g}/{up:g}/{away:g}", x, y)

    def asked(self, base_up: float, top_up: float):
        def edge(*ends: tuple[float, float, float]) -> list[Mark]:
            return [self.seen(*end) for end in ends]

        level = (
            [edge((-1500, y, 6000), (1500, y, 7000)) for y in (0, 2500)],
            [edge((-1000, y, 8000), (1200, y, 6500)) for y in (0, 2500)],
        )
        upright = [edge((x, 0, 7000), (x, 2500, 7000)) for x in (-1400, 1400)]
        post = edge((-900, 0, 6000), (-900, 1000, 6000))
        thing = edge((800, base_up, 8000), (800, top_up, 8000))
        return heights.height_on_common_ground(level, upright, post, known_size("post", 1000.0, 2.0), thing)

    def test_a_thing_taller_than_the_camera_comes_out_right(self):
        assert self.asked(0, 2600).value_mm == pytest.approx(2600, rel=1e-9)

    def test_its_base_and_top_exchanged_are_refused_although_nothing_lies_on_the_horizon(self):
        with pytest.raises(MarksNotUsable, match="base and top are not exchanged") as refusal:
            self.asked(2600, 0)
        assert refusal.value.code == "beyond-horizon"
