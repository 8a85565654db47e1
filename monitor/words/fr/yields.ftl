# Ce que la ferme rapporte.


## part

part-yields = Rendement

## yield

yield-eggs = Œufs récoltés
yield-grams = Œufs récoltés
yield-eggs_per_female_day = Œufs par femelle et par jour
yield-per_female_mg = Œufs par femelle mise, en poids
yield-eggs_per_female = Œufs par femelle
yield-hatch = Éclos
yield-laid_hatch = Éclos parmi les œufs que ses mouches ont pondus
yield-larvae = Larves récoltées
yield-prepupae = Prénymphes
yield-feed = Aliment donné
yield-residue = Résidu
yield-days = Jours du remplissage à la récolte
yield-days_from_egg = Jours de l’œuf à la récolte
yield-conversion_wet = Aliment pour 1 kg de larves, tous deux frais
yield-conversion_dry = Aliment pour 1 kg de larves, tous deux secs
yield-conversion_dry_fresh = Aliment sec pour 1 kg de larves fraîches
yield-bioconversion_wet = Aliment devenu larves, tous deux frais
yield-bioconversion_dry = Aliment devenu larves, tous deux secs
yield-reduction = Aliment disparu, à sec
yield-index = Indice de réduction des déchets
yield-efficiency = Larves tirées de l’aliment disparu, à sec
yield-survival = Larves en vie à la récolte
yield-growth_rate = Croissance
yield-kept = Gardées pour la reproduction
yield-flies = Mouches mises
yield-emergence = Prénymphes devenues mouches
yield-dead_flies = Mouches mortes enlevées
yield-dead_flies_mass = Mouches mortes balayées, en poids

## yield_money

yield_money-eggs = Œufs vendus
yield_money-larvae = Larves vendues
yield_money-kept_worth = Larves données à ses animaux, valeur
yield_money-feed = Aliment, coût

## lack

lack-nothing_written = rien de noté
lack-feed = aliment non pesé
lack-feed_moisture = humidité de l’aliment non notée
lack-larvae_out = pas encore de larves sorties
lack-larvae_in = larves mises non pesées
lack-larvae_count = larves mises non comptées
lack-counted_sample = pas d’échantillon compté de la récolte
lack-residue = résidu non pesé
lack-residue_moisture = humidité du résidu non notée
lack-more_out_than_in = il en est sorti plus qu’entré
lack-no_gain = les larves n’ont rien gagné
lack-counts_disagree = les comptages ne concordent pas
lack-still_filled = le bac est encore plein
lack-flies = mouches non comptées
lack-female_share = femelles non comptées, moitié supposée
lack-eggs_per_gram = nombre d’œufs par gramme inconnu
lack-larva_dry_share = part sèche des larves supposée
lack-prepupa_mass = masse d’une prénymphe supposée
lack-hatch = aucune éclosion notée
lack-some_hatch = éclosion d’une partie des œufs non notée
lack-egg_day = jour des œufs inconnu
lack-prepupae = prénymphes non comptées
lack-price = pas de prix dans les réglages
lack-use = usage non dit

## lack_do

lack_do-feed_moisture = Noter l’humidité de l’aliment : aliment et larves se comparent alors à sec.
lack_do-larvae_in = Peser les jeunes larves mises, ou en compter un échantillon.
lack_do-residue = Peser le résidu en vidant un bac : on sait alors combien d’aliment a disparu.
lack_do-residue_moisture = Noter l’humidité du résidu : un bac qui a seulement séché paraîtrait mangé.
lack_do-flies = Compter les mouches à leur sortie : on connaît alors les œufs par femelle, et la prévision est plus étroite.
lack_do-hatch = Noter la part éclose des œufs mis à éclore.
lack_do-egg_day = Commencer un lot quand ses œufs sont mis à éclore : on connaît alors les jours jusqu’à la récolte.
lack_do-use = Dire ce que sont devenus les œufs et les larves : vendus, donnés à manger ou gardés.

## yields

yields-not_known = inconnu : { $why }
yields-between = { $value } ({ $low } à { $high })
yields-percent_a_day = { $count } % par jour
yields-used = { $amount } ({ $uses })
yields-of_needed = { $kept } sur { $needed } nécessaires
yields-of_cage = Œufs de { $cage }
yields-filling = { $bin }, rempli { $day }
yields-this_week = Cette semaine, depuis { $day }
yields-this_month = Ce mois, depuis { $day }
yields-past_week = Semaine du { $window }
yields-past_month = Mois du { $window }
yields-before_week = la semaine d’avant
yields-before_month = le mois d’avant
yields-none_yet = Rien n’est encore noté qui puisse être additionné : œufs récoltés, aliment donné, larves récoltées.
yields-nothing_of_it = rien à additionner encore
yields-cages = Cages
yields-bins = Bacs
yields-cohorts = Lots
yields-ahead = Ce qui vient
yields-ahead_none = Aucune cage ni aucun bac dont quelque chose soit à venir.
yields-all_cages = Œufs de toutes les cages
yields-larva_weeks = Larves par semaine
yields-days_ahead = Jour par jour
yields-windows = Les nombres entre parenthèses contiennent la vérité quatre fois sur cinq.
yields-cage_week = En sept jours { $grams } d’œufs.
yields-bin_best = À récolter de préférence { $day } ({ $window }), avant que trop ne noircissent : alors { $amount } de larves.
yields-bin_late = Plus que quelques-unes sont déjà noires : récolter maintenant, { $amount } de larves.
yields-promise = Pour { $day } on peut promettre { $grams } d’œufs, sur les sept jours jusque-là : ils y sont quatre fois sur cinq.
yields-promise_none = Pour { $day } on ne peut promettre aucun œuf : moins d’un gramme est sûr.
yields-keep = Pour { $grams } d’œufs par semaine, garder { $safe } prénymphes chaque semaine : cela vient alors quatre semaines sur cinq ; avec { $even } une semaine sur deux.
yields-keep_by = Celles pour la semaine du { $week } sont à garder avant { $day } au plus tard.
yields-keep_late = Trop tard pour la semaine du { $week }, qui ne se rattrape plus.
yields-level_papers = Rien appris encore : ce que donne une femelle repose sur des publications. Chaque récolte pesée le rend propre à la ferme.
yields-bins_papers = Les kilogrammes de larves reposent sur des publications jusqu’à la récolte d’un bac à l’aliment pesé.
yields-missing = Pour en savoir plus
yields-doubts = Entrées à revoir
yields-count_flies = Personne n’a compté les mouches de { $cage }, on suppose donc qu’elle continue ainsi : les compter à leur sortie.
yields-cages_unknown = On ne sait rien des mouches de { $cages } : les compter à leur sortie, ou peser les œufs. Ce qui vient sera alors écrit ici.
yields-doubt_large = Entrée { $number }, { $place }, { $day } : { $amount } semble { $times } fois trop. Rien n’en est appris avant correction ; les sommes le contiennent encore.
yields-doubt_small = Entrée { $number }, { $place }, { $day } : { $amount } semble { $times } fois trop peu. Rien n’en est appris avant correction ; les sommes le contiennent encore.
yields-doubt_odd = Entrée { $number }, { $place }, { $day } : { $amount } est loin de ce qui y est usuel. Rien n’en est appris avant correction ; les sommes le contiennent encore.
yields-csv_written = { $file } écrit : { $count } lignes, une par jour et par lieu.
yields-days_file = Chaque jour de chaque lieu en tableau (CSV)
yields-ask_grams = Grammes d’œufs voulus par semaine
yields-ask_day = Promis à un acheteur pour
yields-ask_do = Calculer
yields-none = –
yields-hatch_seen = Éclosion vue
yields-all_else = Tout le reste
yields-more_doubts =
    { $count ->
        [one] Et { $count } entrée encore.
       *[other] Et { $count } entrées encore.
    }
yields-level =
    { $count ->
        [one] Une femelle mise donne { $eggs } d’œufs, d’après { $count } semaine de récolte ici.
       *[other] Une femelle mise donne { $eggs } d’œufs, d’après { $count } semaines de récolte ici.
    }
yields-learned_bins =
    { $count ->
        [one] Un kilogramme d’aliment donne { $kg } kg de larves, tous deux frais, d’après { $count } bac récolté ici.
       *[other] Un kilogramme d’aliment donne { $kg } kg de larves, tous deux frais, d’après { $count } bacs récoltés ici.
    }

## climate

climate-heading = Ce qui allait avec le climat
climate-eggs_cold_nights = Les nuits sous { $limit } dans la cage allaient avec { $share } % d’œufs en moins les deux jours suivants ({ $low } à { $high } % ; { $such } nuits contre { $others }).
climate-eggs_hot_days = Les jours au-dessus de { $limit } dans la cage allaient avec { $share } % d’œufs en moins ces jours-là et le lendemain ({ $low } à { $high } % ; { $such } jours contre { $others }).
climate-eggs_dry_days = Les jours avec { $hours } h ou plus sous { $limit } dans la cage allaient avec { $share } % d’œufs en moins ces jours-là et le lendemain ({ $low } à { $high } % ; { $such } jours contre { $others }).
climate-eggs_dull_days = Les jours avec moins des trois quarts des heures de lumière habituelles allaient avec { $share } % d’œufs en moins ces jours-là et le lendemain ({ $low } à { $high } % ; { $such } jours contre { $others }).
climate-hatch_dry_hours = { $hours } h ou plus sous { $limit } sur le plateau allaient avec { $share } % d’éclosion en moins ({ $low } à { $high } % ; { $such } plateaux contre { $others }).
climate-hatch_cold_hours = { $hours } h ou plus sous { $limit } sur le plateau allaient avec { $share } % d’éclosion en moins ({ $low } à { $high } % ; { $such } plateaux contre { $others }).
climate-emergence_hot_hours = { $hours } h ou plus au-dessus de { $limit } dans la caisse allaient avec { $share } % de mouches en moins ({ $low } à { $high } % ; { $such } caisses contre { $others }).
climate-emergence_dry_hours = { $hours } h ou plus sous { $limit } dans la caisse allaient avec { $share } % de mouches en moins ({ $low } à { $high } % ; { $such } caisses contre { $others }).
climate-harvest_cold_hours = { $hours } h ou plus sous { $limit } dans le bac allaient avec { $share } % de larves en moins pour le même aliment ({ $low } à { $high } % ; { $such } bacs contre { $others }).
climate-harvest_hot_hours = { $hours } h ou plus au-dessus de { $limit } dans le bac allaient avec { $share } % de larves en moins pour le même aliment ({ $low } à { $high } % ; { $such } bacs contre { $others }).
climate-cost_eggs = Ces { $days } derniers jours : environ { $middle } g d’œufs en moins ({ $low } à { $high } g).
climate-cost_hatch = Ces { $days } derniers jours : l’éclosion d’environ { $middle } g d’œufs en moins ({ $low } à { $high } g).
climate-cost_emergence = Ces { $days } derniers jours : environ { $middle } mouches en moins ({ $low } à { $high }).
climate-cost_harvest = Ces { $days } derniers jours : environ { $middle } kg de larves en moins ({ $low } à { $high } kg).
climate-cost_money = Soit { $low } à { $high } { $currency }.
climate-limit_cold_nights = Vos propres œufs justifieraient une limite de { $offered } pour les nuits dans la cage au lieu de { $now } : les nuits entre les deux allaient avec { $share } % d’œufs en moins ({ $low } à { $high } % ; { $such } nuits contre { $others }). Rien n’a été réglé.
climate-limit_hot_days = Vos propres œufs justifieraient une limite de { $offered } pour les jours dans la cage au lieu de { $now } : les jours entre les deux allaient avec { $share } % d’œufs en moins ({ $low } à { $high } % ; { $such } jours contre { $others }). Rien n’a été réglé.
climate-milder_cold_nights = D’après vos propres œufs, { $offered } suffirait comme limite pour les nuits dans la cage au lieu de { $now } : les nuits entre les deux allaient avec { $high } % d’œufs en moins au plus ({ $such } nuits contre { $others }). Rien n’a été réglé.
climate-milder_hot_days = D’après vos propres œufs, { $offered } suffirait comme limite pour les jours dans la cage au lieu de { $now } : les jours entre les deux allaient avec { $high } % d’œufs en moins au plus ({ $such } jours contre { $others }). Rien n’a été réglé.
climate-rests =
    { $compared ->
        [one] { $compared } chose a été comparée, avec assez de cas pour le dire.
       *[other] { $compared } choses ont été comparées, avec assez de cas pour le dire.
    }
climate-not_caused = Seul ce qui ressort est dit, et « allait avec » n’est pas « a causé ».
climate-nothing = Rien du climat ne ressort pour l’instant dans les œufs, l’éclosion, les mouches ou les récoltes.
