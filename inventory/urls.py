"""Addresses of the inventory pages."""

from django.urls import URLPattern, path

from .views import budgets, counts, labels, metals, orders, pieces, purchases, rack, scrap, supplies

urlpatterns: list[URLPattern] = [
    path("rack/", rack.rack, name="rack"),
    path("rack/receive/", purchases.receive, name="receive"),
    path("rack/offcut/", pieces.offcut_new, name="offcut_new"),
    path("rack/purchases/", purchases.purchases, name="purchases"),
    path("rack/purchases/<int:pk>/", purchases.purchase, name="purchase"),
    path("rack/orders/", orders.orders, name="orders"),
    path("rack/orders/new/", orders.order_new, name="order_new"),
    path("rack/orders/<int:pk>/", orders.order, name="order"),
    path("rack/orders/<int:pk>/close/", orders.order_close, name="order_close"),
    path("rack/<int:pk>/", pieces.stock_piece, name="stock_piece"),
    path("rack/<int:pk>/label/", labels.stock_label, name="stock_label"),
    path("rack/purchases/<int:pk>/labels/", labels.purchase_labels, name="purchase_labels"),
    path("rack/<int:pk>/place/", pieces.stock_move, name="stock_move"),
    path("rack/<int:pk>/correct/", pieces.stock_correct, name="stock_correct"),
    path("rack/<int:pk>/scrap/", pieces.stock_scrap, name="stock_scrap"),
    path("rack/<int:pk>/strike-off/", pieces.stock_strike_off, name="stock_strike_off"),
    path("rack/counts/", counts.stock_counts, name="stock_counts"),
    path("rack/counts/<int:pk>/", counts.stock_count, name="stock_count"),
    path("rack/counts/<int:pk>/add/", counts.count_add, name="count_add"),
    path("rack/counts/<int:pk>/book/", counts.count_book, name="count_book"),
    path("rack/counts/<int:pk>/call-off/", counts.count_call_off, name="count_call_off"),
    path("rack/counts/<int:pk>/sheet/", counts.count_sheet, name="count_sheet"),
    path("metals/", metals.metals, name="metals"),
    path("metals/new/", metals.metal_new, name="metal_new"),
    path("metals/<int:pk>/", metals.metal, name="metal"),
    path("metals/<int:pk>/price/", metals.metal_price_new, name="metal_price_new"),
    path("metals/<int:pk>/list/", metals.metal_retire, name="metal_retire"),
    path("supplies/", supplies.supplies, name="supplies"),
    path("supplies/new/", supplies.supply_new, name="supply_new"),
    path("supplies/<int:pk>/", supplies.supply_edit, name="supply_edit"),
    path("supplies/<int:pk>/use/", supplies.supply_retire, name="supply_retire"),
    path("scrap/", scrap.scrap_boxes, name="scrap_boxes"),
    path("scrap/<int:pk>/correct/", scrap.scrap_correct, name="scrap_correct"),
    path("courses/<int:course_pk>/budget/", budgets.budget, name="budget"),
    path("courses/<int:course_pk>/budget/allot/", budgets.budget_allot, name="budget_allot"),
    path("courses/<int:course_pk>/budget/csv/", budgets.budget_csv, name="budget_csv"),
]
