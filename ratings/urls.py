from __future__ import annotations

from django.urls import path

from ratings.views import (
    bench,
    board,
    certificate,
    listings,
    lotrating,
    lots,
    mounting,
    policy,
    stock,
    unit,
)

urlpatterns = [
    path("", board.board, name="board"),
    path("units/<int:housing_id>/", unit.unit, name="unit"),
    path("units/<int:housing_id>/mounting/", mounting.mounting, name="mounting"),
    path("lots/", lots.lots, name="lots"),
    path("stock-take/", stock.stock_take, name="stock-take"),
    path("lots/<int:lot_id>/move/", stock.move_yards, name="move-yards"),
    path("lots/new/", lots.new_lot, name="new-lot"),
    path("lots/<int:lot_id>/", lots.lot, name="lot"),
    path("lots/<int:lot_id>/stock/", lots.stock, name="lot-stock"),
    path("lots/<int:lot_id>/bench-test/", bench.new_test, name="new-bench-test"),
    path("lots/<int:lot_id>/bench-test/preview/", bench.preview, name="bench-preview"),
    path("bench-tests/<int:test_id>/", bench.test, name="bench-test"),
    path("bench-tests/<int:test_id>/photo/", bench.photo, name="bench-photo"),
    path("lot-ratings/<int:rating_id>/", lotrating.lot_rating, name="lot-rating"),
    path(
        "lot-ratings/<int:rating_id>/certificate.pdf",
        certificate.certificate,
        name="lot-certificate",
    ),
    path("lot-ratings/<int:rating_id>/approve/", lotrating.approve, name="approve-rating"),
    path("lot-ratings/<int:rating_id>/withdraw/", lotrating.withdraw, name="withdraw-rating"),
    path("listings/", listings.listings, name="listings"),
    path("hammers/<int:hammer_id>/listing/", listings.new_listing, name="new-listing"),
    path("policy/", policy.policy, name="policy"),
]
