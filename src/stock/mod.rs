//! stock.
